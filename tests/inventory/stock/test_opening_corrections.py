"""Opening stock put right after it was used: its amount, what it cost, and its day."""

from datetime import date
from typing import Any

import pytest

from inventory.errors import BelowZeroOnDay, CannotReverse, InventoryError, LedgerError
from inventory.ledger.effects import Effect
from inventory.ledger.models import CostingMethod, Lot, Posting, PostingKind
from inventory.stock.actions.opening_stock import (
    OpeningCorrectionFacts,
    correct_opening,
    preview_opening_correction,
)
from studio.errors import InputError
from tests import making
from tests.days import TODAY, june
from tests.inventory.invariants import unchanged
from tests.making import held, money, units

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]

METHODS = pytest.mark.parametrize("method", CostingMethod)


def make_two_lots() -> tuple[Posting, Lot, Lot]:
    """100 mL of amber for 10.00 and 100 mL of indigo for 30.00, as the books began."""
    amber, indigo = making.make_material(name="Amber"), making.make_material(name="Indigo")
    posting = making.make_opening(
        lines=[(amber, units(100), money(10)), (indigo, units(100), money(30))], on=june(2)
    )
    first, second = Lot.objects.filter(entries__posting=posting).order_by("pk").distinct()
    return posting, first, second


def correct(posting: Posting, on: date = TODAY, **facts: Any) -> Posting:
    return correct_opening(
        posting=posting,
        facts=OpeningCorrectionFacts(reason="Wrong amount", **facts),
        submission=making.make_submission(on=on),
    )


@METHODS
def test_an_amount_and_a_cost_are_corrected_after_half_was_used(method: CostingMethod) -> None:
    making.use_cost_flow(method)
    posting, amber, indigo = make_two_lots()
    making.spill(lot=amber, quantity=units(50), on=june(4))
    correction = correct(posting, lines={amber.pk: {"quantity": units(200), "money": money(40)}})
    assert held(amber) == (units(150), money(30))
    assert held(indigo) == (units(100), money(30))
    assert (correction.kind, correction.corrects) == (PostingKind.CORRECTION, posting)


def test_a_correction_is_shown_account_by_account_and_writes_nothing() -> None:
    posting, amber, _indigo = make_two_lots()
    making.spill(lot=amber, quantity=units(50), on=june(4))
    with unchanged():
        shelf, lost = preview_opening_correction(
            posting=posting,
            facts=OpeningCorrectionFacts(lines={amber.pk: {"money": money(20)}}),
            submission=making.make_submission(),
        )
    assert isinstance(shelf, Effect)
    assert (shelf.money_before, shelf.money_after) == (money(5), money(10))
    assert (lost.money_before, lost.money_after) == (money(5), money(10))


def test_a_second_correction_builds_on_the_first() -> None:
    posting, amber, _indigo = make_two_lots()
    correct(posting, lines={amber.pk: {"money": money(12)}})
    correct(posting, lines={amber.pk: {"money": money(14), "quantity": units(70)}})
    assert held(amber) == (units(70), money(14))


def test_the_day_moves_with_its_lots_and_back_when_the_correction_is_reversed() -> None:
    posting, amber, indigo = make_two_lots()
    correction = correct(posting, received_on=june(1))
    assert {lot.received_on for lot in Lot.objects.all()} == {june(1)}
    making.take_back(correction)
    assert {lot.received_on for lot in Lot.objects.all()} == {june(2)}
    assert (held(amber), held(indigo)) == ((units(100), money(10)), (units(100), money(30)))


def test_no_less_can_have_been_there_than_was_used() -> None:
    posting, amber, _indigo = make_two_lots()
    making.spill(lot=amber, quantity=units(50), on=june(4))
    with unchanged(), pytest.raises(BelowZeroOnDay):
        correct(posting, lines={amber.pk: {"quantity": units(40)}})


@pytest.mark.parametrize(
    ("facts", "error"),
    [
        ({}, InventoryError),
        ({"received_on": date(2031, 1, 1)}, LedgerError),
        ({"seen": 99}, InventoryError),
        ({"lines": {10**6: {"money": 1}}}, InputError),
    ],
)
def test_what_cannot_be_is_refused(facts: dict[str, Any], error: type[Exception]) -> None:
    posting, _amber, _indigo = make_two_lots()
    with unchanged(), pytest.raises(error):
        correct(posting, **facts)


def test_a_refusal_names_the_line() -> None:
    posting, _amber, indigo = make_two_lots()
    with pytest.raises(InputError) as refusal:
        correct(posting, lines={indigo.pk: {"quantity": 0}})
    assert [(each.line, each.field) for each in refusal.value.problems] == [(2, "quantity")]


def test_opening_stock_is_reversed_after_its_corrections() -> None:
    posting, amber, _indigo = make_two_lots()
    correction = correct(posting, lines={amber.pk: {"money": money(12)}})
    with pytest.raises(CannotReverse, match=str(correction.number)):
        making.take_back(posting)
    making.take_back(correction)
    making.take_back(posting)
    assert held(amber) == (0, 0)
