"""The page of alerts: what needs attention and why, what to buy, answered by one touch; and one's own daily email."""

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inventory.alerts.actions.refreshing import refresh_alerts
from inventory.alerts.models import Alert, AlertCheck, Digest, DigestChoice
from inventory.materials.models import Supply
from studio.accounts.models import User
from tests.days import AT, DAY, TODAY
from tests.inventory.alerts.looking import look, low_material
from tests.inventory.browsing import as_user, queries, text_of
from tests.making import make_delivery, make_lot, make_material, make_supplier, money, units
from tests.two_tabs import Tab

pytestmark = pytest.mark.django_db
ALERTS = "inventory:alerts"


def page(user: User, query: str = "") -> str:
    return text_of(as_user(user).get(reverse(ALERTS) + query))


def answer(user: User, name: str, alert: Alert, **sent: str) -> str:
    return text_of(as_user(user).post(reverse(f"inventory:alert-{name}", args=[alert.pk]), sent, follow=True))


def test_it_says_what_is_low_why_and_what_to_buy(owner: User) -> None:
    paint = low_material(name="Sail Loft White")
    supplier = make_supplier(name="Limpet Colours")
    Supply.objects.create(supplier=supplier, material=paint, pack_size=units(500), price=money(9))
    look()
    words = page(owner)
    assert "To reorder 1" in words
    assert "Sail Loft White" in words
    assert "100 mL left; reorder level 250 mL." in words
    assert "Why this level? Your own level." in words
    assert "Buy 1 × 500 mL from Limpet Colours" in words
    assert "Raised 10 Jun 2025" in words


def test_kinds_stand_in_groups_with_counts_the_most_urgent_first(owner: User) -> None:
    for _ in range(2):
        low_material()
    make_material(name="Used up", reorder_level=units(250))
    look()
    words = page(owner)
    assert 0 < words.index("Out of stock 1") < words.index("To reorder 2")


def test_six_alerts_stand_in_sight_and_the_others_are_folded_under_their_kinds(owner: User) -> None:
    for number in range(4):
        make_material(name=f"Used up {number}", reorder_level=units(250))
    for number in range(5):
        low_material(name=f"Low {number}")
    look()
    open_groups = as_user(owner).get(reverse(ALERTS)).context["groups"]
    in_sight = [(group["kind"].code, len(group["rows"]), len(group["folded"])) for group in open_groups]
    assert in_sight == [("out", 3, 1), ("to_reorder", 3, 2)]
    narrowed = as_user(owner).get(reverse(ALERTS), {"kind": "to_reorder"}).context["groups"]
    assert [(len(group["rows"]), len(group["folded"])) for group in narrowed] == [(5, 0)]


def test_the_newest_of_a_kind_stand_first(owner: User) -> None:
    for number in range(4):
        low_material(name=f"Low {number}")
    look()
    newest = Alert.objects.get(material__name="Low 3")
    Alert.objects.filter(pk=newest.pk).update(raised_at=newest.raised_at + timedelta(days=1))
    (group,) = as_user(owner).get(reverse(ALERTS)).context["groups"]
    assert group["rows"][0].name == "Low 3"


def test_it_shows_the_shelf_of_now_and_not_of_when_it_was_raised(owner: User) -> None:
    paint = low_material()
    look()
    make_lot(material=paint, quantity=units(50), cost=money(1))
    assert "150 mL left" in page(owner)


def test_a_material_no_longer_followed_shows_its_alert_as_raised(owner: User) -> None:
    paint = low_material(name="Put away")
    look()
    type(paint).objects.filter(pk=paint.pk).update(is_archived=True)
    assert "100 mL left; reorder level 250 mL." in page(owner)


def test_the_list_is_narrowed_by_kind_and_by_state(owner: User) -> None:
    low_material(name="Sail Loft White")
    make_material(name="Spent Amber", reorder_level=units(250))
    look()
    assert (
        "Spent Amber"
        not in page(owner, "?kind=to_reorder").replace("Used up</option>", "").split("Material")[-1]
    )
    assert "No alerts match" in page(owner, "?state=snoozed")
    assert "No alerts match" in page(owner, "?state=cleared")
    make_lot(material=Alert.objects.get(kind="to_reorder").material, quantity=units(1_000))
    look()
    assert "100 mL left; reorder level 250 mL." in page(owner, "?state=cleared")


def test_the_file_has_the_whole_list(owner: User) -> None:
    low_material(name="Sail Loft White")
    look()
    content = as_user(owner).get(reverse(ALERTS), {"export": "csv"}).content.decode()
    assert "Sail Loft White" in content
    assert "2025-06-10" in content


def test_one_touch_acknowledges_snoozes_and_shows_again(owner: User, helper: User) -> None:
    low_material()
    refresh_alerts(on=timezone.localdate(), at=timezone.now())
    alert = Alert.objects.get(kind="to_reorder")
    until = timezone.localdate() + timedelta(days=7)
    assert "To reorder 1" not in answer(
        helper, "snooze", alert, until=until.isoformat(), then=reverse(ALERTS)
    )
    assert "Snoozed 1" in page(owner)
    assert "To reorder 1" in answer(helper, "show-again", alert, then=reverse(ALERTS))
    words = answer(helper, "acknowledge", alert)
    assert "History" in words
    for happened in ("Raised", "Snoozed", "Shown again", "Acknowledged", helper.username):
        assert happened in words


@pytest.mark.parametrize("until", ["", "tomorrow", "2020-01-01", "9999-12-31"])
def test_a_snooze_without_a_sensible_day_comes_back_and_changes_nothing(owner: User, until: str) -> None:
    low_material()
    look()
    alert = Alert.objects.get()
    address = reverse("inventory:alert-snooze", args=[alert.pk])
    response = as_user(owner).post(address, {"until": until})
    assert response.status_code == 422
    alert.refresh_from_db()
    assert alert.snoozed_until is None


def test_an_answer_to_a_cleared_alert_says_so(owner: User) -> None:
    paint = low_material()
    look()
    make_lot(material=paint, quantity=units(1_000))
    look()
    assert "cleared already" in answer(owner, "acknowledge", Alert.objects.get())


@pytest.mark.parametrize(
    "then", ["https://elsewhere.example/", "//elsewhere.example", "[]", "home", "\\x", ""]
)
def test_an_answer_goes_nowhere_else(owner: User, then: str) -> None:
    low_material()
    look()
    address = reverse("inventory:alert-acknowledge", args=[Alert.objects.get().pk])
    response = as_user(owner).post(address, {"then": then})
    assert response["Location"].startswith("/alerts/")


def test_looking_again_raises_and_clears_and_says_when(owner: User) -> None:
    paint = low_material(name="Sail Loft White")
    AlertCheck.objects.create(day=TODAY, at=AT)
    assert "were last checked on 10 Jun 2025" in page(owner)
    response = as_user(owner).post(reverse("inventory:alerts-refresh"), follow=True)
    assert "Everything checked. New alerts: 2, cleared: 0" in text_of(response)  # a stocktake is due as well
    assert "Everything was checked today" in text_of(response)
    make_lot(material=paint, quantity=units(1000))
    response = as_user(owner).post(reverse("inventory:alerts-refresh"), follow=True)
    assert "New alerts: 0, cleared: 1" in text_of(response)


def test_looking_writes_nothing(owner: User) -> None:
    low_material()
    page(owner)
    assert not Alert.objects.exists()
    answer = as_user(owner).get(reverse("inventory:alerts-refresh"))
    assert (answer.status_code, answer.headers["Allow"]) == (405, "POST")
    assert "<h1>" in answer.content.decode()  # as after logging in on the way to a button


def test_nothing_is_said_to_need_attention_only_after_a_check_of_today(owner: User) -> None:
    assert not as_user(owner).get(reverse(ALERTS)).context["checked_at"]
    assert "Nothing needs attention" not in page(owner)
    as_user(owner).post(reverse("inventory:alerts-refresh"))
    assert "Nothing needs attention" in page(owner)


def test_a_bookkeeper_reads_and_may_do_nothing(bookkeeper: User) -> None:
    low_material()
    look()
    words = page(bookkeeper)
    assert "Check again now" not in words
    assert "For a week" not in as_user(bookkeeper).get(reverse(ALERTS)).content.decode()
    for address in (
        reverse("inventory:alerts-refresh"),
        reverse("inventory:alert-acknowledge", args=[Alert.objects.get().pk]),
    ):
        assert as_user(bookkeeper).post(address).status_code == 403


def a_jump() -> Alert:
    paint = make_material(name="Gull White")
    for ago, price in ((60, 10), (30, 10), (0, 20)):
        make_delivery(lines=[(paint, units(100), money(price))], on=TODAY - ago * DAY)
    look()
    return Alert.objects.get(kind="price_jump")


def test_what_tells_about_money_is_not_there_for_who_may_not_see_it(owner: User, helper: User) -> None:
    alert = a_jump()
    assert "£20.00 per 100 mL" in page(owner)
    words = page(helper)
    assert "Gull White" not in words.split("Material")[0]
    assert "£" not in words
    assert not as_user(helper).get(reverse(ALERTS)).context["groups"]
    assert as_user(helper).get(reverse("inventory:alert", args=[alert.pk])).status_code == 404
    address = reverse("inventory:alert-acknowledge", args=[alert.pk])
    assert as_user(helper).post(address).status_code == 404
    assert "open</span>" not in as_user(helper).get(reverse("home")).content.decode()


def test_strangers_are_sent_to_the_door(client: Client, stranger: User) -> None:
    client.force_login(stranger)
    assert reverse("login") in client.get(reverse(ALERTS))["Location"]


def test_hostile_names_are_written_out_harmlessly(owner: User) -> None:
    low_material(name="<script>alert(1)</script>")
    look()
    for address in (reverse(ALERTS), reverse("inventory:alert", args=[Alert.objects.get().pk])):
        content = as_user(owner).get(address).content.decode()
        assert "<script>alert" not in content
        assert "&lt;script&gt;alert(1)" in content


def test_the_pages_ask_as_many_queries_for_few_as_for_many(owner: User) -> None:
    def some() -> None:
        low_material()
        make_material(reorder_level=units(9))
        lot = make_lot(quantity=units(10))
        type(lot).objects.filter(pk=lot.pk).update(best_before=TODAY)

    some()
    look()
    pages = (reverse(ALERTS), reverse("home"), reverse("inventory:alert-email"))
    few = [queries(as_user(owner), address) for address in pages]
    for _ in range(6):
        some()
    look()
    assert [queries(as_user(owner), address) for address in pages] == few


# One's own daily email


def test_the_owner_sees_which_address_an_email_has_not_reached_until_it_is(owner: User, helper: User) -> None:
    facts = {"day": TODAY, "written_at": timezone.now()}
    Digest.objects.create(
        address="bench@wrackline.example", message_id="<1>", sent_at=timezone.now(), **facts
    )
    failed = Digest.objects.create(
        address="loft@wrackline.example", message_id="<2>", problem="550 <no> such mailbox", **facts
    )
    words = page(owner)
    assert "loft@wrackline.example 550 &lt;no&gt; such mailbox" in words
    assert "bench@" not in words
    assert "loft@" not in page(helper)
    Digest.objects.filter(pk=failed.pk).update(sent_at=timezone.now())
    assert "loft@" not in page(owner)


def test_the_next_email_is_shown_as_it_would_be_sent(owner: User) -> None:
    low_material(name="Sail Loft White")
    look()
    words = text_of(as_user(owner).get(reverse("inventory:alert-email")))
    assert "1 new alert: To reorder" in words
    assert "- Sail Loft White: 100 mL left; reorder level 250 mL. Your own level." in words
    assert "You have no email address here" in words
    assert not Digest.objects.exists()


def test_everybody_chooses_their_own(helper: User) -> None:
    client, address = as_user(helper), reverse("inventory:alert-email")
    assert "Price jump" not in text_of(client.get(address))
    sent = {"wants_digest": "on", "muted": ["near_date", "stocktake_due"]}
    client.post(address, sent)
    choice = DigestChoice.objects.get(person=helper)
    assert (choice.wants_digest, choice.muted_kinds) == (True, ["near_date", "stocktake_due"])
    response = client.post(address, {"muted": ["price_jump"]})
    assert response.status_code == 422
    choice.refresh_from_db()
    assert choice.wants_digest


def test_the_second_of_two_tabs_is_told_what_the_first_one_chose(owner: User) -> None:
    address = reverse("inventory:alert-email")
    first, second = (Tab(as_user(owner), address, address) for _tab in range(2))
    assert first.send(wants_digest="on", muted="near_date").status_code == 200
    response = second.send(wants_digest="on", muted="stocktake_due")
    assert "Near its date" in text_of(response)
    assert DigestChoice.objects.get().muted == "near_date"
