"""Today: what needs the studio now, the way in for an empty one, and what each role sees of it."""

import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.selling.actions import sell
from inventory.alerts.actions.refreshing import refresh_alerts
from inventory.ledger.models import Lot
from studio.accounts.models import User
from studio.backups.models import Backup
from studio.preferences.models import Studio
from tests.costing.pages import MONEY, NASTY, as_user, text_of
from tests.costing.stories import LATER, a_piece, make_channel, moved_to, two_ring_pours
from tests.making import (
    make_helper,
    make_lot,
    make_material,
    make_order,
    make_plan,
    make_pour,
    make_rates,
    make_recipe,
    make_submission,
    make_supplier,
    make_surface,
    money,
    planned_line,
    units,
)
from tests.two_tabs import Tab

pytestmark = pytest.mark.django_db


@pytest.fixture
def signed(owner: User) -> Client:
    return as_user(owner)


def today_page(client: Client) -> str:
    return text_of(client.get(reverse("home")))


# An empty studio


def test_an_empty_studio_is_led_through_its_first_steps(signed: Client) -> None:
    response = signed.get(reverse("home"))
    words = text_of(response)
    steps = [
        "Set up the studio", "Enter your hourly rate", "Choose a costing method", "List your materials",
        "Enter your opening stock", "Add a recipe", "Log a session", "Create a piece", "Add where you sell",
        "Price your first piece",
    ]  # fmt: skip
    assert [item["step"].title for item in response.context["steps"]] == steps
    listed = words[words.index("First steps") :]
    assert [listed.index(step) for step in steps] == sorted(listed.index(step) for step in steps)
    assert [item["step"].title for item in response.context["steps"] if item["is_next"]] == [
        "Set up the studio"
    ]
    assert "Needs attention" not in words


def test_each_step_ticks_itself_off(signed: Client) -> None:
    def done() -> list[bool]:
        return [item["step"].is_done for item in signed.get(reverse("home")).context["steps"]]

    assert done() == [False] * 10
    Studio.objects.update(name="Wrackline Studio")
    make_recipe(parts=[(make_material(), 1)])
    assert done()[3] is False  # there is nothing to pour it on yet
    make_surface()
    assert done() == [True, False, False, True, False, True, False, False, False, False]
    pour = make_pour(on=LATER - timedelta(days=8))
    make_rates(wage_per_hour=money(12))
    assert done() == [True] * 7 + [False] * 3
    piece = a_piece(pours=[pour], price="20.00")
    make_channel("Stall")
    assert done() == [True] * 9 + [False]
    moved_to(piece, State.FOR_SALE, on=LATER)
    assert done() == []


def test_whoever_saves_the_usual_costing_method_has_chosen_it(signed: Client) -> None:
    signed.post(reverse("inventory:costing-method"), {"costing_method": "fifo", "seen": "0"})
    assert [item["step"].is_done for item in signed.get(reverse("home")).context["steps"]][:4] == [
        False, False, True, False,
    ]  # fmt: skip


def test_whoever_saves_the_settings_as_they_are_has_set_up_the_studio(signed: Client) -> None:
    here = reverse("studio-settings")
    Tab(signed, here, here).send()
    assert signed.get(reverse("home")).context["steps"][0]["step"].is_done


def test_a_saved_step_leads_on_to_the_next_and_says_so_once(signed: Client) -> None:
    Studio.objects.update(name="Wrackline Studio")
    here = reverse("inventory:costing-method")
    assert "Next step" not in text_of(signed.get(here))
    saved = signed.post(here, {"costing_method": "fifo", "seen": "0"}, follow=True)
    assert "Next step: List your materials" in text_of(saved)
    other = signed.post(reverse("inventory:alerts-refresh"), follow=True)
    assert "Next step" not in text_of(other), "that save led nowhere else"
    make_material()
    make_surface()
    other = signed.post(reverse("inventory:alerts-refresh"), follow=True)
    assert "Next step: Enter your opening stock" in text_of(other)
    assert "Next step" not in text_of(signed.get(reverse("inventory:alerts")))


def test_whoever_went_past_a_first_step_is_not_sent_back_to_it(signed: Client) -> None:
    make_pour(on=LATER - timedelta(days=8))  # the studio still has no name
    assert not signed.get(reverse("home")).context["steps"][0]["step"].is_done
    assert "Next step" not in text_of(signed.post(reverse("inventory:alerts-refresh"), follow=True))


def test_the_step_of_a_finished_piece_leads_to_its_price(signed: Client) -> None:
    def href() -> str:
        return str(signed.get(reverse("home")).context["steps"][-1]["step"].href)

    piece = a_piece()
    assert href() == reverse("costing:piece", args=[piece.pk])
    moved_to(piece, State.FINISHED)
    assert href() == reverse("costing:piece", args=[piece.pk]) + "#price"


def test_a_piece_sold_without_an_asking_price_ends_the_first_steps(signed: Client) -> None:
    piece = a_piece(state=State.FOR_SALE)
    assert signed.get(reverse("home")).context["steps"]
    sell(piece=piece, channel=make_channel("Stall"), price=money(20), submission=make_submission(on=LATER))
    assert not signed.get(reverse("home")).context["steps"]


def test_the_step_of_a_first_session_is_that_of_the_plan_that_waits(signed: Client) -> None:
    board = make_surface()
    plan = make_plan(planned_line(board, 1, make_material()), on=timezone.localdate())
    steps = {item["step"].to: item["step"].href for item in signed.get(reverse("home")).context["steps"]}
    assert steps["inventory:session-new"] == f"{reverse('inventory:session-new')}?plan={plan.pk}"


def test_a_helper_is_not_sent_to_the_owners_pages(helper: User) -> None:
    response = as_user(helper).get(reverse("home"))
    assert "Owner only" in text_of(response)
    assert reverse("settings") not in response.content.decode()


def test_nobody_is_led_to_a_page_that_is_not_theirs(helper: User, bookkeeper: User) -> None:
    two_ring_pours()
    for client in (as_user(helper), as_user(bookkeeper)):
        page = client.get(reverse("home")).content.decode()
        for address in set(re.findall(r'href="(/[^"#]*)"', page)):
            assert address.startswith("/static/") or client.get(address).status_code == 200, address


# What needs doing


def test_pieces_say_when_they_may_be_varnished(signed: Client) -> None:
    a_piece(title="Ebb")
    Piece.objects.update(made_on=timezone.localdate() - timedelta(days=3))
    assert "Ebb ready in 4 days" in today_page(signed)
    Piece.objects.update(made_on=timezone.localdate() - timedelta(days=6))
    assert "Ebb ready tomorrow" in today_page(signed)
    Piece.objects.update(made_on=timezone.localdate() - timedelta(days=7))
    assert "Ebb Ready to varnish" in today_page(signed)


def test_finished_pieces_wait_for_a_price_and_a_place(signed: Client) -> None:
    a_piece(title="Ebb", state=State.FINISHED)
    a_piece(title="Flood", state=State.FINISHED, price="20.00")
    a_piece(title="Slack", state=State.FOR_SALE)
    words = today_page(signed)
    assert "Ebb Finished, needs a price" in words
    assert "Flood Finished, not yet listed" in words
    assert "Slack For sale without a price" in words


def test_low_stock_late_parcels_and_paint_going_off_are_listed(signed: Client) -> None:
    today = timezone.localdate()
    a_piece()
    low = make_material(name="Sail Loft White", reorder_level=units(2000))
    make_lot(material=low, quantity=units(500), cost=money(8))
    old = make_lot(material=make_material(name="Tide Blue"), quantity=units(250), cost=money(4))
    Lot.objects.filter(pk=old.pk).update(best_before=today - timedelta(days=1))
    refresh_alerts(on=today, at=timezone.now())
    supplier = make_supplier(name="Limpet Colours")
    for days in (-2, 2, 40):
        make_order(
            (old.material, units(10)),
            supplier=supplier,
            on=today - timedelta(days=9),
            expected_on=today + timedelta(days=days),
        )
    response = signed.get(reverse("home"))
    words = text_of(response)
    assert "Sail Loft White 500 mL left; reorder level 2 L." in words
    assert f"Tide Blue, {old.label} 250 mL, £4.00 Expired" in words
    assert [line.kind for line in response.context["orders"]] == ["low", "wait"]


def test_the_last_session_can_be_repeated_and_its_pours_made_pieces(signed: Client) -> None:
    first, _ = two_ring_pours()
    response = signed.get(reverse("home"))
    assert f"{reverse('inventory:session-new')}?repeat={first.session_id}" in response.content.decode()
    assert "2 pours have not been made into pieces yet" in text_of(response)


def test_the_month_is_set_against_what_its_pieces_cost(signed: Client, owner: User) -> None:
    piece = a_piece(state=State.FOR_SALE, price="45.00")
    sale = sell(
        piece=piece, channel=make_channel(), price=money(45), submission=make_submission(by=owner, on=LATER)
    )
    assert signed.get(reverse("home")).context["month"].count == 0
    type(sale).objects.update(sold_on=timezone.localdate())
    words = today_page(signed)
    assert "Net proceeds this month £45.00" in words
    assert "Profit on sales £39.50" in words
    assert "Net proceeds less £5.50 of cost" in words


def test_the_owner_sees_when_the_last_good_backup_was_made(signed: Client, bookkeeper: User) -> None:
    assert "No backup yet Make one" in today_page(signed)
    Backup.objects.create(made_at=timezone.now(), path="/x.zip", ok=True)
    assert "Last good backup" in today_page(signed)
    Backup.objects.update(made_at=timezone.now() - timedelta(days=8))
    assert "Make one" in today_page(signed)
    assert "backup" not in today_page(as_user(bookkeeper))


# Who may, and how much it asks of the database


def test_a_helper_sees_the_work_and_no_money(helper: User) -> None:
    piece = a_piece(title="Ebb", state=State.FOR_SALE, price="45.67")
    sell(piece=piece, channel=make_channel(), price=money("45.67"), submission=make_submission(on=LATER))
    a_piece(title="Flood")
    old = make_lot(quantity=units(250), cost=money("4.56"))
    Lot.objects.filter(pk=old.pk).update(best_before=timezone.localdate())
    response = as_user(helper).get(reverse("home"))
    assert "Flood Ready to varnish" in text_of(response)
    assert not MONEY.search(text_of(response))
    assert "month" not in response.context
    assert "£4.56" in today_page(as_user(make_helper(may_see_money=True)))


def test_the_bookkeeper_is_offered_nothing_to_write(bookkeeper: User) -> None:
    two_ring_pours()
    page = as_user(bookkeeper).get(reverse("home")).content.decode()
    assert reverse("inventory:session-new") not in re.sub(
        r"<(nav|header)[ >].*?</\1>", "", page, flags=re.DOTALL
    )


def test_strangers_are_sent_to_the_door(stranger: User) -> None:
    for client in (Client(), as_user(stranger)):
        assert client.get(reverse("home"))["Location"].startswith(reverse("login"))


def test_a_hostile_name_is_written_as_text(signed: Client) -> None:
    a_piece(title=NASTY)
    page = signed.get(reverse("home")).content.decode()
    assert NASTY not in page
    assert "&lt;script&gt;" in page


def test_the_number_of_queries_does_not_grow_with_the_studio(signed: Client, owner: User) -> None:
    channel = make_channel()

    def count(more: int) -> int:
        for number in range(more):
            a_piece(title=f"Wet {number}")
            piece = a_piece(title=f"Sold {number}", state=State.FOR_SALE, price="45.00")
            sale = sell(
                piece=piece, channel=channel, price=money(45), submission=make_submission(by=owner, on=LATER)
            )
            type(sale).objects.update(sold_on=timezone.localdate())
            lot = make_lot(material=make_material(reorder_level=units(5000)))
            Lot.objects.filter(pk=lot.pk).update(best_before=timezone.localdate())
            make_order((lot.material, units(1)), on=LATER, expected_on=max(LATER, timezone.localdate()))
        refresh_alerts(on=timezone.localdate(), at=timezone.now())
        with CaptureQueriesContext(connection) as queries:
            assert signed.get(reverse("home")).status_code == 200
        return len(queries)

    count(1)
    assert count(2) == count(9)


def test_the_first_session_points_back_to_what_comes_before_it(signed: Client) -> None:
    hint = "Before your first session: Next step: Set up the studio"
    assert hint in text_of(signed.get(reverse("inventory:session-new")))
    make_pour(on=LATER - timedelta(days=8))
    assert "Before your first session" not in text_of(signed.get(reverse("inventory:session-new")))
