"""Counting, measuring and weighing what is there, against what the books say."""

from datetime import date

import pytest
from pytest_django import DjangoCaptureOnCommitCallbacks

from inventory.alerts.models import Alert
from inventory.errors import InventoryError, KeyReused
from inventory.ledger.models import CostingMethod, Entry, Lot, Place, Posting, PostingKind
from inventory.stock.actions.stocktakes import Count, post_stocktake, weighed
from inventory.stock.models import Stocktake
from tests import making
from tests.days import DAY, TODAY
from tests.inventory.invariants import refused
from tests.making import held, money, units

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]


def count(*found: tuple[Lot, int], notes: str = "", on: date = TODAY, key: str = "") -> Stocktake:
    counts = [Count(lot, quantity) for lot, quantity in found]
    return post_stocktake(counts=counts, notes=notes, submission=making.make_submission(on=on, key=key))


def test_less_than_the_books_say_is_a_count_difference_with_its_cost() -> None:
    lot = making.make_lot()
    stocktake = count((lot, units(940)))
    assert held(lot) == (units(940), money("9.40"))
    lost = Entry.objects.get(place=Place.LOSS)
    assert (lost.reason, lost.quantity, lost.money) == (making.the_reason("count"), units(60), money("0.60"))
    line = stocktake.lines.get()
    assert (line.expected, line.counted) == (units(1_000), units(940))


def test_more_than_the_books_say_is_a_gain_at_the_lot_s_own_cost() -> None:
    lot = making.make_lot()
    stocktake = count((lot, units(1_050)))
    assert held(lot) == (units(1_050), money("10.50"))
    gave = Entry.objects.get(place=Place.GAIN)
    assert (gave.quantity, gave.money) == (-units(50), -money("0.50"))
    assert stocktake.posting is not None
    assert stocktake.posting.kind == PostingKind.STOCKTAKE


def test_both_directions_and_several_lots_go_into_one_posting() -> None:
    paint = making.make_material()
    over, under, right = (making.make_lot(material=paint, quantity=units(10)) for _ in range(3))
    stocktake = count((over, units(12)), (under, units(7)), (right, units(10)), notes="Midsummer")
    assert [held(lot)[0] for lot in (over, under, right)] == [units(12), units(7), units(10)]
    assert stocktake.posting is not None
    assert (stocktake.posting.lines, stocktake.posting.note) == (4, "Midsummer")
    assert stocktake.lines.count() == 3


def test_a_count_that_agrees_is_recorded_without_a_posting() -> None:
    lot = making.make_lot()
    before = Posting.objects.count()
    stocktake = count((lot, units(1_000)))
    assert stocktake.posting is None
    assert stocktake.lines.get().counted == units(1_000)
    assert Posting.objects.count() == before


def test_an_empty_count_takes_everything() -> None:
    lot = making.make_lot()
    count((lot, 0))
    assert held(lot) == (0, 0)


def test_paint_found_in_a_lot_the_books_call_empty_costs_what_the_last_receipt_did() -> None:
    paint = making.make_material()
    lot = making.make_lot(material=paint, quantity=units(10), cost=money(1))
    making.spill(lot=lot, quantity=units(10))
    making.make_lot(material=paint, quantity=units(10), cost=money(2))
    count((lot, units(3)))
    assert held(lot) == (units(3), money("0.60"))


def test_paint_found_without_any_receipt_on_record_costs_nothing() -> None:
    lot = Lot.objects.create(material=making.make_material(), origin=Lot.Origin.COUNT, received_on=TODAY)
    count((lot, units(3)))
    assert held(lot) == (units(3), 0)


def test_under_weighted_average_a_gain_is_evened_over_all_lots() -> None:
    making.use_cost_flow(CostingMethod.AVERAGE)
    paint = making.make_material()
    empty = making.make_lot(material=paint, quantity=units(10), cost=money(1))
    making.spill(lot=empty, quantity=units(10))
    other = making.make_lot(material=paint, quantity=units(10), cost=money(4))
    count((empty, units(10)), (other, units(5)))
    # 5 of the other lot's 4.00 are lost with 2.00; 10 are found at 0.40: 6.00 over 15
    assert (held(empty), held(other)) == ((units(10), money(4)), (units(5), money(2)))


@pytest.mark.parametrize(("counted", "says"), [(-1, "zero or more")])
def test_it_refuses_a_count_below_nothing(counted: int, says: str) -> None:
    lot = making.make_lot()
    with refused(InventoryError, match=says):
        count((lot, counted))


def test_it_refuses_no_count_a_lot_counted_twice_and_a_lot_from_later() -> None:
    lot = making.make_lot()
    with refused(InventoryError, match="at least one lot"):
        count()
    with refused(InventoryError, match="appears twice"):
        count((lot, 1), (lot, 2))
    with refused(InventoryError, match="came in after 9 June 2025"):
        count((lot, 1), on=TODAY - DAY)


def test_a_part_of_a_canvas_is_not_counted() -> None:
    lot = making.make_lot(material=making.make_surface(), quantity=units(4))
    with refused(InventoryError, match="whole numbers"):
        count((lot, 4_007))


def test_a_retried_stocktake_gives_the_same_one() -> None:
    lot = making.make_lot()
    first = count((lot, units(900)), key="count")
    assert count((lot, units(900)), key="count") == first
    assert held(lot)[0] == units(900)


def test_a_retried_count_that_agreed_is_kept_once_although_it_posted_nothing() -> None:
    lot = making.make_lot()
    first = count((lot, units(1000)), key="count")
    assert first.posting is None
    assert count((lot, units(1000)), key="count") == first
    with pytest.raises(KeyReused):
        count((lot, units(1000)), key="count", notes="Another shelf")
    assert Stocktake.objects.count() == 1


def test_a_bottle_on_the_scale_tells_what_it_holds() -> None:
    # By arithmetic: 388 g gross less a 52 g empty bottle is 336 g; at 1.12 g/mL that is exactly 300 mL.
    lot = making.make_lot(material=making.make_material(density=1_120_000))
    lot.empty_weight = units(52)
    assert weighed(lot, units(388)) == units(300)
    assert weighed(lot, units(388), empty=units(164)) == units(200)
    assert weighed(lot, units(52)) == 0


def test_a_tub_by_weight_needs_no_density() -> None:
    lot = making.make_lot(material=making.make_material(measure="mass", density=None))
    assert weighed(lot, units(850), empty=units(75)) == units(775)


def test_weighing_asks_for_what_it_does_not_know() -> None:
    paint = making.make_lot(material=making.make_material(name="Foam white", density=None))
    with pytest.raises(InventoryError, match="weight of the empty container is unknown"):
        weighed(paint, units(100))
    with pytest.raises(InventoryError, match="Foam white has no density"):
        weighed(paint, units(100), empty=units(10))
    with pytest.raises(InventoryError, match="less than its empty container"):
        weighed(paint, units(9), empty=units(10))
    canvas = making.make_lot(material=making.make_surface(name="Round board"), quantity=units(1))
    with pytest.raises(InventoryError, match="Round board has no density"):
        weighed(canvas, units(100), empty=units(10))


def test_counting_looks_for_what_is_low_now(
    django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks,
) -> None:
    lot = making.make_lot(material=making.make_material(reorder_level=units(500)))
    with django_capture_on_commit_callbacks(execute=True):
        count((lot, units(480)))
    assert Alert.objects.standing().filter(material=lot.material).exists()
