"""The page of reorder alerts: what is low now, what to buy, what cleared by itself."""

import pytest
from django.test import Client
from django.urls import reverse

from inventory.materials.models import Material, Supply
from inventory.reordering.actions import claim, note_mail, refresh_alerts
from inventory.reordering.models import Alert
from studio.accounts.models import User
from tests.days import AT, TODAY
from tests.inventory.browsing import as_user, queries, text_of
from tests.making import make_lot, make_material, make_supplier, money, units

pytestmark = pytest.mark.django_db
ALERTS = "inventory:alerts"


def low(**facts: object) -> Material:
    """100 mL left of a paint to reorder at 250 mL; the alert is not raised yet."""
    paint = make_material(**({"reorder_level": units(250)} | facts))
    make_lot(material=paint, quantity=units(100), cost=money(2))
    return paint


def look(user: User) -> str:
    return text_of(as_user(user).get(reverse(ALERTS)))


def test_it_says_what_is_low_and_what_to_buy(owner: User) -> None:
    paint = low(name="Sail Loft White")
    supplier = make_supplier(name="Limpet Colours")
    Supply.objects.create(supplier=supplier, material=paint, pack_size=units(500), price=money(9))
    refresh_alerts(on=TODAY, at=AT)
    words = look(owner)
    assert "Sail Loft White" in words
    assert "In stock 100 mL On order 0 mL Reorder at 250 mL" in words
    assert "Buy 1 × 500 mL from Limpet Colours" in words
    assert "Your own level. Raised 10 Jun 2025" in words


def test_it_shows_the_shelf_of_now_and_not_of_when_it_was_raised(owner: User) -> None:
    paint = low()
    refresh_alerts(on=TODAY, at=AT)
    make_lot(material=paint, quantity=units(50), cost=money(1))
    assert "In stock 150 mL" in look(owner)


def test_the_owner_sees_which_address_a_mail_has_not_reached_until_it_is_reached(
    owner: User, helper: User
) -> None:
    low()
    refresh_alerts(on=TODAY, at=AT)
    claimed = claim(at=AT)
    note_mail(claimed, address="bench@wrackline.example", at=AT)
    note_mail(claimed, address="loft@wrackline.example", at=AT, problem="550 <no> such mailbox\n")
    words = look(owner)
    assert "loft@wrackline.example 550 &lt;no&gt; such mailbox" in words
    assert "bench@" not in words
    assert "loft@" not in look(helper)
    note_mail(claimed, address="loft@wrackline.example", at=AT)
    assert "loft@" not in look(owner)


def test_nothing_left_is_said_to_be_nothing(owner: User) -> None:
    make_material(name="Never bought", reorder_level=0)
    refresh_alerts(on=TODAY, at=AT)
    words = look(owner)
    assert "Never bought" in words
    assert "In stock 0 mL On order 0 mL Reorder at 0 mL" in words


def test_a_true_zero_of_now_is_not_hidden_by_what_it_was_then(owner: User) -> None:
    paint = make_material(name="Used up", reorder_level=units(250))
    Alert.objects.create(
        material=paint, raised_at=AT, stock=units(90), on_order=units(40), level=units(250), reason="Then."
    )
    assert "In stock 0 mL On order 0 mL" in look(owner)


def test_a_material_no_longer_followed_shows_its_alert_as_raised(owner: User) -> None:
    paint = make_material(name="Put away", is_archived=True)
    Alert.objects.create(
        material=paint, raised_at=AT, stock=units(90), on_order=0, level=units(250), reason="Then."
    )
    words = look(owner)
    assert "In stock 90 mL" in words
    assert "Then." in words


def test_looking_again_raises_and_clears(owner: User) -> None:
    paint = low(name="Sail Loft White")
    response = as_user(owner).post(reverse("inventory:alerts-refresh"), follow=True)
    assert "New alerts: 1, cleared: 0" in text_of(response)
    make_lot(material=paint, quantity=units(1000))
    response = as_user(owner).post(reverse("inventory:alerts-refresh"), follow=True)
    assert "New alerts: 0, cleared: 1" in text_of(response)
    assert "Recently cleared Sail Loft White" in text_of(response)


def test_looking_writes_nothing(owner: User) -> None:
    low()
    look(owner)
    assert not Alert.objects.exists()
    assert as_user(owner).get(reverse("inventory:alerts-refresh")).status_code == 405


def test_the_empty_page_teaches(owner: User) -> None:
    assert "Nothing to order" in look(owner)


def test_a_bookkeeper_reads_and_may_not_refresh(bookkeeper: User) -> None:
    low()
    assert as_user(bookkeeper).post(reverse("inventory:alerts-refresh")).status_code == 403
    assert not Alert.objects.exists()
    assert "Check again now" not in look(bookkeeper)


def test_a_helper_may_refresh_and_sees_no_money(helper: User) -> None:
    low()
    as_user(helper).post(reverse("inventory:alerts-refresh"))
    words = look(helper)
    assert "Order now" in words
    assert "£" not in words


def test_strangers_are_sent_to_the_door(client: Client, stranger: User) -> None:
    client.force_login(stranger)
    assert reverse("login") in client.get(reverse(ALERTS))["Location"]


def test_hostile_names_are_written_out_harmlessly(owner: User) -> None:
    low(name="<script>alert(1)</script>")
    refresh_alerts(on=TODAY, at=AT)
    content = as_user(owner).get(reverse(ALERTS)).content.decode()
    assert "<script>alert" not in content
    assert "&lt;script&gt;alert(1)" in content


def test_the_page_asks_as_many_queries_for_few_as_for_many(owner: User) -> None:
    for _ in range(3):
        low()
    refresh_alerts(on=TODAY, at=AT)
    few = queries(as_user(owner), reverse(ALERTS))
    for _ in range(12):
        low()
    refresh_alerts(on=TODAY, at=AT)
    assert queries(as_user(owner), reverse(ALERTS)) == few
