"""Named ways out of stock, and decanting from one container into another."""

from datetime import date
from typing import Any

import pytest

from inventory.errors import InventoryError, NotEnough
from inventory.ledger.models import CostingMethod, Entry, Lot, Place, Posting, PostingKind
from inventory.stock.actions.lots import decant, write_off
from studio.accounts.models import User
from tests import making
from tests.days import DAY, TODAY
from tests.inventory.invariants import refused
from tests.making import held, money, units

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]


def pour_into_a_jar(lot: Lot, quantity: int, *, on: date = TODAY, key: str = "", **facts: Any) -> Lot:
    submission = making.make_submission(on=on, key=key)
    return decant(lot=lot, quantity=quantity, submission=submission, **facts)


def test_a_write_off_takes_the_paint_and_its_cost_to_the_named_cause() -> None:
    lot = making.make_lot()
    posting = making.spill(lot=lot, quantity=units(250))
    assert held(lot) == (units(750), money("7.50"))
    lost = posting.entries.get(place=Place.LOSS)
    assert (lost.reason, lost.quantity, lost.money) == (
        making.the_reason("spilled"),
        units(250),
        money("2.50"),
    )
    assert posting.note == "Spill or dropped bottle"


@pytest.mark.parametrize("code", ["gift", "own-use", "sample", "dried-out"])
def test_gifts_own_use_and_samples_leave_with_their_cost_too(code: str, owner: User) -> None:
    lot = making.make_lot()
    write_off(
        lot=lot,
        quantity=units(100),
        reason=making.the_reason(code),
        note="At the fair",
        submission=making.make_submission(by=owner),
    )
    assert Entry.objects.get(place=Place.LOSS, reason__code=code).money == money(1)
    assert Posting.objects.latest("number").note == "At the fair"


def test_it_refuses_to_write_off_more_than_the_lot_holds_though_another_lot_has_it() -> None:
    paint = making.make_material()
    lot = making.make_lot(material=paint, quantity=units(10))
    making.make_lot(material=paint, quantity=units(100))
    with refused(NotEnough, match=r"11.mL needed, 10.mL in stock, 1.mL short") as refusal:
        making.spill(lot=lot, quantity=units(11))
    assert [item.short for item in refusal.value.shortfalls] == [units(1)]


def test_it_refuses_to_write_off_what_had_not_come_in_yet() -> None:
    lot = making.make_lot()
    with refused(NotEnough):
        making.spill(lot=lot, quantity=1, on=TODAY - DAY)


@pytest.mark.parametrize("quantity", [0, -1])
def test_it_refuses_to_write_off_or_decant_nothing(quantity: int) -> None:
    lot = making.make_lot()
    with refused(InventoryError, match="above zero"):
        making.spill(lot=lot, quantity=quantity)
    with refused(InventoryError, match="above zero"):
        pour_into_a_jar(lot, quantity)


def test_what_empties_a_lot_takes_all_its_cost() -> None:
    lot = making.make_lot(quantity=units(3), cost=money(1))
    spilled = [making.spill(lot=lot, quantity=units(1)).entries.get(place=Place.LOSS).money for _ in range(3)]
    # a third of 1.00 is 0.333333; half of the 0.666667 left is 0.3333335, half up; the last takes the rest
    assert spilled == [333_333, 333_334, 333_333]
    assert held(lot) == (0, 0)


def test_decanting_makes_a_jar_that_remembers_where_it_came_from() -> None:
    lot = making.make_lot(on=TODAY - 30 * DAY)
    Lot.objects.filter(pk=lot.pk).update(best_before=TODAY + 99 * DAY, supplier_batch="QL-77")
    lot.refresh_from_db()
    jar = pour_into_a_jar(lot, units(200), place="Bench", empty_weight=units(41))
    assert held(lot) == (units(800), money(8))
    assert held(jar) == (units(200), money(2))
    assert (jar.origin, jar.decanted_from, jar.received_on) == (Lot.Origin.DECANT, lot, lot.received_on)
    assert (jar.best_before, jar.supplier_batch) == (lot.best_before, "QL-77")
    assert (jar.opened_on, jar.place, jar.empty_weight) == (TODAY, "Bench", units(41))
    assert Posting.objects.latest("number").kind == PostingKind.DECANT


def test_an_open_bottle_s_jar_was_opened_when_the_bottle_was() -> None:
    lot = making.make_lot(on=TODAY - 30 * DAY)
    Lot.objects.filter(pk=lot.pk).update(opened_on=TODAY - 20 * DAY)
    lot.refresh_from_db()
    assert pour_into_a_jar(lot, units(1)).opened_on == TODAY - 20 * DAY


def test_it_refuses_to_decant_more_than_the_lot_holds() -> None:
    lot = making.make_lot(quantity=units(10))
    with refused(NotEnough):
        pour_into_a_jar(lot, units(11))


def test_it_refuses_to_decant_before_the_lot_came_in() -> None:
    lot = making.make_lot()
    with refused(NotEnough):
        pour_into_a_jar(lot, units(1), on=TODAY - DAY)


def test_it_refuses_to_decant_an_empty_lot() -> None:
    lot = making.make_lot(quantity=units(10))
    making.spill(lot=lot, quantity=units(10))
    with refused(NotEnough):
        pour_into_a_jar(lot, units(1))


def test_a_retried_decanting_gives_the_same_jar() -> None:
    lot = making.make_lot()
    jar = pour_into_a_jar(lot, units(10), key="jar")
    assert pour_into_a_jar(lot, units(10), key="jar") == jar
    assert Lot.objects.filter(decanted_from=lot).count() == 1


def test_under_weighted_average_a_jar_costs_what_the_bottle_does() -> None:
    making.use_cost_flow(CostingMethod.AVERAGE)
    lot = making.make_lot(quantity=units(3), cost=money(1))
    jar = pour_into_a_jar(lot, units(1))
    assert (held(lot), held(jar)) == ((units(2), 666_667), (units(1), 333_333))
