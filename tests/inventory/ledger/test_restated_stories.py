"""What was learned late leaves every figure as if the truth had been known on its day.

The textbook month is from OpenStax, Principles of Accounting Vol. 1 (Financial), chapter 10; the other stories are
small enough to be worked out by hand.
"""

from dataclasses import replace
from datetime import date

import pytest
from django.db.models import Sum
from django.test import Client

from inventory.errors import BelowZeroOnDay, NotEnough
from inventory.ledger.models import CostingMethod, Entry, Lot, Place, Posting
from inventory.ledger.month_ends import balances_on
from inventory.ledger.verification import check
from inventory.sessions.actions.corrections import correct_session
from inventory.sessions.actions.sessions import Dose, SessionFacts
from inventory.sessions.models import Pour
from inventory.stock.actions.lots import decant
from inventory.stock.actions.stocktakes import Count, post_stocktake
from studio.auditing.writing import set_all
from tests import making
from tests.days import DAY, TODAY, june
from tests.inventory.invariants import refused
from tests.making import held, money, units

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]

METHODS = pytest.mark.parametrize("method", CostingMethod)


def in_work() -> int:
    return Entry.objects.filter(place=Place.WORK).aggregate(money=Sum("money"))["money"] or 0


def lost(code: str = "spilled") -> int:
    return Entry.objects.filter(reason__code=code).aggregate(money=Sum("money"))["money"] or 0


def worth_on(day: date, lot: Lot) -> tuple[int, int]:
    return balances_on(day).get(lot.pk, (0, 0))


def pour_all(lot: Lot, quantity: int, on: date = TODAY) -> Pour:
    """Pour paint on a board that cost nothing."""
    board = making.make_surface()
    making.make_opening(lines=[(board, units(1), 0)], on=june(1))
    facts = making.pour_of(material=lot.material, quantity=quantity, surface=board)
    return making.make_session(pours=[facts], on=on).pours.get()


@METHODS
def test_a_correction_comes_back_with_the_write_off_that_it_reached(method: CostingMethod) -> None:
    making.use_cost_flow(method)
    lot = making.make_lot(quantity=units(100), cost=money(10), on=june(1))
    written_off = making.spill(lot=lot, quantity=units(50))
    making.correct(lot=lot, difference=money(4))
    assert (held(lot)[1], lost()) == (money(7), money(7))
    making.take_back(written_off)
    assert (held(lot), lost()) == ((units(100), money(14)), 0)


@METHODS
def test_a_correction_comes_back_with_pieces_that_were_written_off(method: CostingMethod) -> None:
    making.use_cost_flow(method)
    lot = making.make_lot(quantity=units(100), cost=money(10), on=june(1))
    pour = pour_all(lot, units(50))
    ruined = making.ruin(
        pours=[pour], reason=making.the_reason("ruined"), submission=making.make_submission()
    )
    making.correct(lot=lot, difference=money(4))
    assert (lost("ruined"), in_work()) == (money(7), 0)
    making.take_back(ruined)
    assert (lost("ruined"), in_work()) == (0, money(7))


@METHODS
def test_a_returned_sale_brings_the_corrected_cost_back_and_its_pages_open(
    method: CostingMethod, client: Client
) -> None:
    making.use_cost_flow(method)
    lot = making.make_lot(quantity=units(100), cost=money(10), on=june(1))
    pour = pour_all(lot, units(50))
    sale = making.sell(pours=[pour])
    making.correct(lot=lot, difference=money(4))
    making.take_back(sale)
    client.force_login(making.make_owner())
    for address in (f"/pours/{pour.pk}/", f"/sessions/{pour.session_id}/", f"/api/pours/{pour.pk}/"):
        assert client.get(address).status_code == 200
    assert in_work() == money(7)


def test_under_the_average_a_late_cost_counts_from_the_day_of_receipt() -> None:
    making.use_cost_flow(CostingMethod.AVERAGE)
    first = making.make_lot(quantity=units(100), cost=money(100), on=june(1))
    second = making.make_lot(material=first.material, quantity=units(100), cost=money(200), on=june(2))
    pour_all(first, units(100), on=june(3))
    making.correct(lot=second, difference=money(40))
    assert in_work() == money(170)
    assert held(first)[1] + held(second)[1] == money(170)


def test_under_the_average_a_mistaken_delivery_leaves_no_trace_in_what_was_poured() -> None:
    making.use_cost_flow(CostingMethod.AVERAGE)
    first = making.make_lot(quantity=units(100), cost=money(100), on=june(1))
    second = making.make_lot(material=first.material, quantity=units(100), cost=money(200), on=june(2))
    mistaken = Posting.objects.get(entries__lot=second, entries__quantity__gt=0)
    pour_all(first, units(50), on=june(3))
    making.take_back(mistaken)
    assert (in_work(), held(first), held(second)) == (money(50), (units(50), money(50)), (0, 0))


def test_a_past_day_gives_no_more_than_it_held() -> None:
    lot = making.make_lot(quantity=units(100), cost=money(100), on=june(1))
    post_stocktake(counts=[Count(lot, units(200))], submission=making.make_submission(on=june(8)))
    with refused(NotEnough, match=r"50\smL short"):
        making.spill(lot=lot, quantity=units(150), on=june(5))
    pour_all(lot, units(100), on=june(5))
    assert worth_on(june(5), lot) == (0, 0)
    assert held(lot) == (units(100), money(100))


def test_decanting_on_a_past_day_gives_no_more_than_it_held() -> None:
    lot = making.make_lot(quantity=units(100), cost=money(100), on=june(1))
    post_stocktake(counts=[Count(lot, units(200))], submission=making.make_submission(on=june(8)))
    with refused(NotEnough):
        decant(lot=lot, quantity=units(150), submission=making.make_submission(on=june(5)))


def test_a_reversal_that_a_past_day_could_not_bear_is_refused_with_the_day() -> None:
    lot = making.make_lot(quantity=units(100), cost=money(100), on=june(1))
    stocktake = post_stocktake(counts=[Count(lot, units(150))], submission=making.make_submission(on=june(3)))
    making.spill(lot=lot, quantity=units(140), on=june(4))
    post_stocktake(counts=[Count(lot, units(90))], submission=making.make_submission(on=june(8)))
    assert stocktake.posting is not None
    with refused(BelowZeroOnDay, match=r"4 June 2025.*40\smL below zero"):
        making.take_back(stocktake.posting)


def test_a_stocktake_of_a_past_day_is_compared_with_that_day() -> None:
    lot = making.make_lot(quantity=units(100), cost=money(100), on=june(1))
    making.spill(lot=lot, quantity=units(60), on=june(9))
    made = post_stocktake(counts=[Count(lot, units(90))], submission=making.make_submission(on=june(5)))
    line = made.lines.get()
    assert (line.expected, held(lot)[0]) == (units(100), units(30))


def test_a_stocktake_of_a_past_day_may_not_take_what_was_used_since() -> None:
    lot = making.make_lot(quantity=units(100), cost=money(100), on=june(1))
    making.spill(lot=lot, quantity=units(60), on=june(9))
    with refused(NotEnough):
        post_stocktake(counts=[Count(lot, units(50))], submission=making.make_submission(on=june(5)))


@METHODS
def test_a_cost_learned_late_stands_on_the_day_of_receipt_and_of_each_use(method: CostingMethod) -> None:
    making.use_cost_flow(method)
    lot = making.make_lot(quantity=units(100), cost=money(10), on=june(1))
    making.spill(lot=lot, quantity=units(50), on=june(4))
    making.correct(lot=lot, difference=money(4), on=june(9))
    assert worth_on(june(1), lot) == (units(100), money(14))
    assert worth_on(june(4), lot) == (units(50), money(7))
    making.spill(lot=lot, quantity=units(50), on=june(2))
    assert worth_on(june(2), lot) == (units(50), money(7))
    assert lost() == money(14)


def test_a_closed_day_keeps_its_figures_and_the_first_open_one_takes_the_difference() -> None:
    lot = making.make_lot(quantity=units(100), cost=money(10), on=june(1))
    making.spill(lot=lot, quantity=units(50), on=june(4))
    making.close_books(through=june(5))
    making.correct(lot=lot, difference=money(4))
    assert worth_on(june(5), lot) == (units(50), money(5))
    assert worth_on(june(6), lot) == (units(50), money(7))
    assert lost() == money(7)
    assert check().is_clean


def test_under_the_average_backdated_work_takes_the_average_of_its_own_day() -> None:
    making.use_cost_flow(CostingMethod.AVERAGE)
    first = making.make_lot(quantity=units(100), cost=money(100), on=june(1))
    second = making.make_lot(material=first.material, quantity=units(100), cost=money(200), on=june(8))
    pour_all(first, units(100), on=june(5))
    assert (in_work(), held(second)) == (money(100), (units(100), money(200)))
    assert worth_on(june(5), first) == (0, 0)


def test_the_textbook_month_under_the_average_ends_as_published_when_it_is_told_out_of_order() -> None:
    # 150 at 21, sold 120; 225 at 27, sold 180; 210 at 33. Published: cost of sales 7,253, closing stock 8,902.
    making.use_cost_flow(CostingMethod.AVERAGE)
    first = making.make_lot(quantity=units(150), cost=money(150 * 30), on=june(1))  # a wrong price
    pour_all(first, units(120), on=june(2))
    third = making.make_lot(material=first.material, quantity=units(210), cost=money(210 * 33), on=june(8))
    twice = making.make_lot(material=first.material, quantity=units(500), cost=money(9_000), on=june(3))
    second = making.make_lot(material=first.material, quantity=units(225), cost=money(225 * 27), on=june(4))
    making.take_back(Posting.objects.get(entries__lot=twice, entries__quantity__gt=0))
    pour_all(first, units(180), on=june(6))
    making.correct(lot=first, difference=-money(150 * 9))
    closing = sum(held(lot)[1] for lot in (first, second, third))
    assert (round(in_work() / money(1)), round(closing / money(1))) == (7_253, 8_902)
    assert in_work() + closing == money(150 * 21 + 225 * 27 + 210 * 33)


def test_first_in_first_out_passes_no_older_lot_over_for_one_that_expires() -> None:
    older = making.make_lot(quantity=units(100), cost=money(100), on=june(1))
    younger = making.make_lot(material=older.material, quantity=units(100), cost=money(300), on=june(2))
    set_all(Lot.objects.filter(pk=younger.pk), best_before=TODAY + DAY, opened_on=june(3))
    pour_all(older, units(60))
    assert (held(older)[0], held(younger)[0]) == (units(40), units(100))


def test_first_expired_first_out_draws_what_expires_first() -> None:
    making.use_cost_flow(CostingMethod.FEFO)
    older = making.make_lot(quantity=units(100), cost=money(100), on=june(1))
    younger = making.make_lot(material=older.material, quantity=units(100), cost=money(300), on=june(2))
    set_all(Lot.objects.filter(pk=younger.pk), best_before=TODAY + DAY)
    pour_all(older, units(60))
    assert (held(older)[0], held(younger)[0]) == (units(100), units(40))


@pytest.mark.parametrize("method", [CostingMethod.FIFO, CostingMethod.FEFO])
def test_a_corrected_session_takes_what_earlier_days_left_in_the_lot(method: CostingMethod) -> None:
    """By lot: 10 mL for 10.00, all poured on the 5th; 5 more found on the 8th, which a session of that day, logged
    first, turns out to have taken. The pour of the 5th keeps its 10.00. What is dated before takes its turn as well:
    3 mL found on the 4th at 1.00 each."""
    making.use_cost_flow(method)
    lot = making.make_lot(quantity=units(10), cost=money(10), on=june(1))
    board = making.make_surface()
    making.make_opening(lines=[(board, units(1), 0)], on=june(1))
    logged = making.pour_of(material=making.make_lot(on=june(1)).material, quantity=units(5), surface=board)
    session = making.make_session(pours=[logged], on=june(8))
    early = pour_all(lot, units(10), on=june(5))
    count(lot, units(5), on=june(8))
    really = replace(logged, doses=[Dose(units(5), material=lot.material)], pour=session.pours.get())
    put_right = SessionFacts(held_on=session.held_on, pours=[really])
    correct_session(session=session, facts=put_right, submission=making.make_submission())
    assert (in_pour(early), in_pour(session.pours.get())) == (money(10), money(5))
    count(lot, units(13), on=june(4))
    assert (in_pour(early), in_pour(session.pours.get()), held(lot)[1]) == (money(10), money(5), money(3))
    assert check().is_clean


def in_pour(pour: Pour) -> int:
    return Entry.objects.filter(pour=pour).aggregate(money=Sum("money"))["money"] or 0


def count(lot: Lot, found: int, *, on: date) -> None:
    post_stocktake(counts=[Count(lot, found)], submission=making.make_submission(on=on))
