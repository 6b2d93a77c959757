"""A delivery put right after the event: what it brought, what all of it cost, and when it came."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.db.models import Sum

from inventory.errors import (
    BelowZeroOnDay,
    CannotReverse,
    ClosedPeriod,
    InventoryError,
    KeyReused,
    LedgerError,
)
from inventory.ledger.models import CostingMethod, Entry, Lot, Place, Posting, PostingKind
from inventory.ledger.month_ends import balances_on
from inventory.purchasing.actions.corrections import CorrectionFacts, correct_delivery, preview_correction
from inventory.purchasing.actions.deliveries import receive_delivery
from inventory.purchasing.actions.delivery_facts import LineFacts
from inventory.purchasing.models import Delivery
from inventory.sessions.models import Pour
from inventory.stock.actions.lots import decant
from inventory.stock.actions.stocktakes import Count, post_stocktake
from tests import making
from tests.days import DAY, TODAY, june
from tests.inventory.invariants import refused, unchanged, wrong_places
from tests.making import held, money, units

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]

METHODS = pytest.mark.parametrize("method", CostingMethod)


def pour_all(lot: Lot, quantity: int, on: date = TODAY) -> Pour:
    """Pour paint on a board that cost nothing."""
    board = making.make_surface()
    making.make_opening(lines=[(board, units(1), 0)], on=june(1))
    facts = making.pour_of(material=lot.material, quantity=quantity, surface=board)
    return making.make_session(pours=[facts], on=on).pours.get()


def at_place(place: Place, pour: Pour | None = None) -> int:
    entries = Entry.objects.filter(place=place)
    if pour is not None:
        entries = entries.filter(pour=pour)
    return entries.aggregate(money=Sum("money"))["money"] or 0


def make_two_lines(**header: Any) -> tuple[Delivery, Lot, Lot]:
    """100 mL of amber for 10.00 and 100 mL of indigo for 30.00."""
    amber, indigo = making.make_material(name="Amber"), making.make_material(name="Indigo")
    lines = [(amber, units(100), money(10)), (indigo, units(100), money(30))]
    delivery = making.make_delivery(lines=lines, on=june(2), **header)
    first, second = (line.lot for line in delivery.lines.order_by("pk"))
    return delivery, first, second


@METHODS
def test_shared_costs_of_a_whole_invoice_are_corrected_at_once(method: CostingMethod) -> None:
    making.use_cost_flow(method)
    delivery, amber, indigo = make_two_lines(carriage=money(4))
    making.spill(lot=amber, quantity=units(50), on=june(4))
    assert (held(amber)[1], held(indigo)[1]) == (money("5.50"), money(33))
    posting = making.correct_delivery(delivery, carriage=money(8), duty=money(4), tax=money(2))
    # By value, a quarter to the amber: 10 + 2 + 1 + 0.50, half of it spilled; 30 + 6 + 3 + 1.50 of indigo.
    assert (held(amber)[1], held(indigo)[1]) == (money("6.75"), money("40.50"))
    assert at_place(Place.LOSS) == money("6.75")
    assert (posting.kind, posting.corrects) == (PostingKind.CORRECTION, delivery.posting)
    delivery.refresh_from_db()
    assert (delivery.carriage, delivery.duty, delivery.tax) == (money(8), money(4), money(2))
    assert [line.landed for line in delivery.lines.order_by("pk")] == [money("13.50"), money("40.50")]


@METHODS
def test_a_wrong_pack_size_and_a_wrong_price_follow_paint_that_was_poured_and_sold(
    method: CostingMethod,
) -> None:
    making.use_cost_flow(method)
    delivery, amber, _indigo = make_two_lines()
    unsold, sold = pour_all(amber, units(20), june(4)), pour_all(amber, units(40), june(4))
    making.sell(pours=[sold], on=june(5))
    line = {"pack": units(250), "packs": 2, "price": money(20), "typed": "250 ml"}
    making.correct_delivery(delivery, lines={amber.pk: line})
    # 20.00 for half a litre: 0.04 a millilitre.
    assert held(amber) == (units(440), money("17.60"))
    assert at_place(Place.WORK, unsold) == money("0.80")
    assert at_place(Place.SOLD, sold) == money("1.60")
    corrected = amber.delivery_line
    corrected.refresh_from_db()
    assert (corrected.packs, corrected.quantity, corrected.typed) == (2, units(500), "250 ml")


def test_the_rate_of_a_foreign_invoice_is_corrected_and_what_was_paid_takes_its_place() -> None:
    lines = [LineFacts(making.make_material(), units(100), money(price)) for price in (10, 20)]
    facts = making.delivery_facts(lines=lines, currency="EUR", rate=Decimal("0.86"), received_on=june(2))
    delivery = receive_delivery(facts=facts, submission=making.make_submission())
    first, second = (line.lot for line in delivery.lines.order_by("pk"))
    by_rate = making.correct_delivery(delivery, rate=Decimal("0.9"))
    assert (held(first)[1], held(second)[1]) == (money(9), money(18))
    by_payment = making.correct_delivery(delivery, rate=None, paid=money("28.53"))
    assert (held(first)[1], held(second)[1]) == (money("9.51"), money("19.02"))
    making.correct_delivery(delivery, lines={first.pk: {"price": money(20)}})
    assert (held(first)[1], held(second)[1]) == (money("14.265"), money("14.265"))
    making.take_back(Posting.objects.latest("number"))
    for posting, rate, paid in ((by_payment, Decimal("0.9"), 27), (by_rate, Decimal("0.86"), "25.80")):
        making.take_back(posting)
        delivery.refresh_from_db()
        assert (delivery.rate, delivery.paid, delivery.invoiced) == (rate, money(paid), money(30))


def test_a_correction_starts_from_the_last_one_and_they_are_reversed_newest_first() -> None:
    delivery, amber, indigo = make_two_lines()
    first = making.correct_delivery(delivery, carriage=money(4))
    second = making.correct_delivery(delivery, lines={amber.pk: {"pack": units(500)}})
    assert (held(amber), held(indigo)) == ((units(500), money(11)), (units(100), money(33)))
    for earlier in (delivery.posting, first):
        with refused(CannotReverse, match=f"ledger no. {second.number}"):
            making.take_back(earlier)
    making.take_back(second)
    assert held(amber) == (units(100), money(11))
    making.take_back(first)
    assert (held(amber), held(indigo)) == ((units(100), money(10)), (units(100), money(30)))
    delivery.refresh_from_db()
    assert delivery.carriage == 0
    assert [line.landed for line in delivery.lines.order_by("pk")] == [money(10), money(30)]
    making.take_back(delivery.posting)
    assert held(amber) == (0, 0)


def test_the_same_correction_sent_again_is_answered_with_the_first() -> None:
    delivery, _amber, _indigo = make_two_lines()
    posting = making.correct_delivery(delivery, carriage=money(4), key="once")
    assert making.correct_delivery(delivery, carriage=money(4), key="once") == posting
    with refused(KeyReused):
        making.correct_delivery(delivery, carriage=money(5), key="once")


def test_nothing_is_corrected_where_nothing_differs() -> None:
    delivery, amber, _indigo = make_two_lines(carriage=money(4))
    with refused(InventoryError, match="Nothing has changed"):
        making.correct_delivery(delivery, carriage=money(4), lines={amber.pk: {"pack": units(100)}})


def test_a_page_opened_before_somebody_else_s_correction_does_not_undo_it() -> None:
    delivery, _amber, _indigo = make_two_lines()
    making.correct_delivery(delivery, carriage=money(4))
    stale = CorrectionFacts("GBP", {"carriage": 0, "duty": money(1)}, reason="Duty", seen=0)
    with refused(InventoryError, match="somebody else"):
        correct_delivery(delivery=delivery, facts=stale, submission=making.make_submission())


def test_what_is_wrong_is_named_with_its_field_and_line() -> None:
    delivery, amber, indigo = make_two_lines()
    lines = {amber.pk: {"packs": 0}, indigo.pk: {"price": -1}}
    wrong = wrong_places(lambda: making.correct_delivery(delivery, lines=lines))
    assert wrong == [("lines", 1, "packs"), ("lines", 2, "price")]
    own_currency = wrong_places(lambda: making.correct_delivery(delivery, rate=Decimal("0.9")))
    other = making.make_lot()
    other_lot = wrong_places(lambda: making.correct_delivery(delivery, lines={other.pk: {"packs": 2}}))
    assert (own_currency, other_lot) == (["rate"], ["lines"])


def test_less_than_was_used_is_refused_with_the_day() -> None:
    delivery, amber, _indigo = make_two_lines()
    making.spill(lot=amber, quantity=units(60), on=june(4))
    with refused(BelowZeroOnDay, match=r"4 June 2025.*10\smL below zero"):
        making.correct_delivery(delivery, lines={amber.pk: {"pack": units(50)}})


def test_a_delivery_that_was_reversed_is_not_corrected() -> None:
    delivery, _amber, _indigo = make_two_lines()
    making.take_back(delivery.posting)
    with refused(InventoryError, match="has been reversed"):
        making.correct_delivery(delivery, carriage=money(4))


# Its day


@METHODS
def test_a_delivery_moves_to_an_earlier_day(method: CostingMethod) -> None:
    making.use_cost_flow(method)
    delivery, amber, _indigo = make_two_lines()
    making.spill(lot=amber, quantity=units(50), on=june(4))
    jar = decant(lot=amber, quantity=units(10), submission=making.make_submission(on=june(5)))
    making.correct_delivery(delivery, received_on=june(1))
    assert balances_on(june(1))[amber.pk] == (units(100), money(10))
    assert balances_on(june(2))[amber.pk] == (units(100), money(10))
    assert held(amber) == (units(40), money(4))
    for lot in (amber, jar):
        lot.refresh_from_db()
        assert lot.received_on == june(1)
    delivery.refresh_from_db()
    assert delivery.received_on == june(1)
    making.spill(lot=amber, quantity=units(10), on=june(1))


@METHODS
def test_a_delivery_moves_to_a_later_day_as_far_as_stock_was_there(method: CostingMethod) -> None:
    making.use_cost_flow(method)
    delivery, amber, _indigo = make_two_lines()
    making.spill(lot=amber, quantity=units(50), on=june(4))
    with refused(BelowZeroOnDay, match=r"4 June 2025.*50\smL below zero"):
        making.correct_delivery(delivery, received_on=june(5))
    making.correct_delivery(delivery, received_on=june(4))
    assert amber.pk not in balances_on(june(3))
    assert balances_on(june(4))[amber.pk] == (units(50), money(5))


def test_what_was_drawn_and_put_back_does_not_hold_a_delivery_on_its_day() -> None:
    delivery, amber, _indigo = make_two_lines()
    making.take_back(making.spill(lot=amber, quantity=units(50), on=june(3)))
    jar = decant(lot=amber, quantity=units(10), submission=making.make_submission(on=june(3)))
    making.take_back(Posting.objects.latest("number"))
    making.correct_delivery(delivery, received_on=june(5))
    assert balances_on(june(4)) == {}
    assert balances_on(june(5))[amber.pk] == (units(100), money(10))
    assert held(jar) == (0, 0)


@METHODS
def test_a_moved_delivery_is_corrected_and_moved_again_and_all_of_it_reversed(method: CostingMethod) -> None:
    making.use_cost_flow(method)
    delivery, amber, _indigo = make_two_lines()
    corrections = [
        making.correct_delivery(delivery, received_on=june(5)),
        making.correct_delivery(delivery, lines={amber.pk: {"pack": units(200)}}),
        making.correct_delivery(delivery, received_on=june(3), carriage=money(4)),
    ]
    assert balances_on(june(3))[amber.pk] == (units(200), money(11))
    assert balances_on(june(2)) == {}
    making.spill(lot=amber, quantity=units(100), on=june(6))
    assert held(amber) == (units(100), money("5.50"))
    for posting in reversed(corrections[2:]):
        making.take_back(posting)
    assert amber.pk not in balances_on(june(4))
    assert held(amber) == (units(100), money(5))
    with refused(CannotReverse):
        making.take_back(corrections[0])


def test_under_the_average_a_moved_delivery_counts_from_its_new_day() -> None:
    making.use_cost_flow(CostingMethod.AVERAGE)
    first = making.make_lot(quantity=units(100), cost=money(100), on=june(1))
    late = making.make_delivery(lines=[(first.material, units(100), money(200))], on=june(5))
    second = late.lines.get().lot
    pour = pour_all(first, units(50), on=june(3))
    assert at_place(Place.WORK, pour) == money(50)
    moved = making.correct_delivery(late, received_on=june(2))
    # 300.00 for 200 mL on the day of pouring.
    assert at_place(Place.WORK, pour) == money(75)
    assert held(first)[1] + held(second)[1] == money(225)
    making.take_back(moved)
    assert at_place(Place.WORK, pour) == money(50)


def test_a_closed_period_keeps_its_deliveries_and_takes_no_others() -> None:
    delivery, amber, _indigo = make_two_lines()
    making.close_books(through=june(3))
    for day in (june(1), june(8)):
        with refused(ClosedPeriod):
            making.correct_delivery(delivery, received_on=day)
    making.correct_delivery(delivery, lines={amber.pk: {"pack": units(200)}})
    assert balances_on(june(3))[amber.pk] == (units(100), money(10))
    assert balances_on(june(4))[amber.pk] == (units(200), money(10))


def test_a_delivery_does_not_move_past_the_opening_of_its_bottle_or_into_the_future() -> None:
    delivery, amber, _indigo = make_two_lines()
    Lot.objects.filter(pk=amber.pk).update(opened_on=june(3))
    with refused(InventoryError, match="was opened on 3 June 2025"):
        making.correct_delivery(delivery, received_on=june(4))
    with refused(LedgerError, match="in the future"):
        making.correct_delivery(delivery, received_on=TODAY + 5 * DAY)


def test_a_delivery_does_not_move_past_a_day_on_which_more_of_it_was_found() -> None:
    delivery, amber, _indigo = make_two_lines()
    moved = making.correct_delivery(delivery, received_on=june(1))
    post_stocktake(counts=[Count(amber, units(120))], submission=making.make_submission(on=june(1)))
    with refused(InventoryError, match="counted on 1 June 2025"):
        making.correct_delivery(delivery, received_on=june(3))
    with refused(CannotReverse, match="counted on 1 June 2025"):
        making.take_back(moved)


def test_a_moved_lot_takes_its_turn_by_its_new_day() -> None:
    older = making.make_lot(quantity=units(100), cost=money(100), on=june(3))
    delivery = making.make_delivery(lines=[(older.material, units(100), money(300))], on=june(5))
    younger = delivery.lines.get().lot
    making.correct_delivery(delivery, received_on=june(2))
    pour_all(older, units(60))
    assert (held(older)[0], held(younger)[0]) == (units(100), units(40))


# What is shown before


@METHODS
def test_a_preview_says_to_the_millionth_what_the_correction_then_does(method: CostingMethod) -> None:
    making.use_cost_flow(method)
    delivery, amber, indigo = make_two_lines(carriage=money("1.01"))
    sold = pour_all(amber, units(33), june(4))
    making.sell(pours=[sold], on=june(5))
    making.spill(lot=indigo, quantity=units(7), on=june(6))
    facts = CorrectionFacts("GBP", {"carriage": money("2.99")}, {amber.pk: {"pack": units(301)}}, "Both")
    with unchanged():
        effects = preview_correction(delivery=delivery, facts=facts, submission=making.make_submission())
    assert {each.account.place for each in effects} == {Place.LOT, Place.SOLD, Place.LOSS}
    correct_delivery(delivery=delivery, facts=facts, submission=making.make_submission())
    for each in effects:
        account = each.account
        own = Entry.objects.filter(
            place=account.place, lot=account.lot, pour=account.pour, reason=account.reason
        )
        assert own.aggregate(money=Sum("money"))["money"] == each.money_after
        if account.lot:
            assert own.aggregate(quantity=Sum("quantity"))["quantity"] == each.quantity_after


def test_a_preview_refuses_what_posting_would() -> None:
    delivery, amber, _indigo = make_two_lines()
    making.spill(lot=amber, quantity=units(60), on=june(4))
    facts = CorrectionFacts("GBP", lines={amber.pk: {"pack": units(50)}}, reason="Less")
    with refused(BelowZeroOnDay, match="4 June 2025"):
        preview_correction(delivery=delivery, facts=facts, submission=making.make_submission())
    assert not Posting.objects.filter(kind=PostingKind.CORRECTION).exists()
