"""What stands on the shelf, today and as of any day, and the entries behind each figure."""

from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.alerts.models import Alert
from inventory.alerts.queries import alert_levels
from inventory.ledger.accounts import work_in_progress
from inventory.ledger.models import Entry, Lot, Place
from inventory.ledger.movements import account_movements, names_in, posted_movements
from inventory.materials.models import Kind, Material
from inventory.purchasing.actions.orders import close_order
from inventory.purchasing.incoming import on_order
from inventory.purchasing.models import Delivery
from inventory.sessions.queries.pours import pours_from
from inventory.stock.actions.lots import decant
from inventory.stock.filters import StockFilter
from inventory.stock.queries import MaterialStock, expiring_lots, held_lots, stock_list, stock_of, unit_costs
from inventory.stock.through_time import latest_receipts, use_by_month
from inventory.stock.valuation import worth_by_place
from tests.days import AT, DAY, TODAY, june
from tests.inventory.browsing import read_whole
from tests.making import (
    correct,
    make_batch,
    make_delivery,
    make_lot,
    make_material,
    make_order,
    make_pour,
    make_recipe,
    make_submission,
    make_supplier,
    make_surface,
    make_water,
    money,
    sell,
    spill,
    take_back,
    units,
    use,
)

pytestmark = pytest.mark.django_db


def row_of(material: Material, **asked: object) -> MaterialStock:
    return next(row for row in stock_list(**asked) if row.material == material)  # type: ignore[arg-type]


def listed(**chosen: str) -> list[MaterialStock]:
    return StockFilter(chosen).rows


def names(rows: list[MaterialStock]) -> list[str]:
    return [row.material.name for row in rows]


def test_a_row_sums_the_lots_of_a_material() -> None:
    paint = make_material()
    make_lot(material=paint, quantity=units(500), cost=money(10))
    opened = make_lot(material=paint, quantity=units(1000), cost=money(14))
    Lot.objects.filter(pk=opened.pk).update(opened_on=TODAY, best_before=june(30))
    row = row_of(paint)
    assert (row.quantity, row.money, row.lots, row.opened_lots) == (units(1500), money(24), 2, 1)
    assert row.use_by == june(30)
    assert row.unit_cost is not None
    assert row.unit_cost.per_base_unit == 16_000  # 24.00 ÷ 1,500 mL


def test_a_material_never_bought_stands_at_nothing() -> None:
    row = row_of(make_material())
    assert (row.quantity, row.money, row.lots, row.level, row.unit_cost) == (0, 0, 0, 0, None)


def test_an_emptied_lot_is_not_counted() -> None:
    lot = make_lot(quantity=units(100))
    spill(lot=lot, quantity=units(100))
    assert row_of(lot.material).lots == 0


def test_the_beaker_is_full_at_what_the_lots_on_the_shelf_held_when_they_came() -> None:
    lot = make_lot(quantity=units(1000))
    spill(lot=lot, quantity=units(750))
    assert row_of(lot.material).level == 250_000


def test_the_beaker_is_full_at_three_reorder_levels_when_that_is_more() -> None:
    paint = make_material(reorder_level=units(1000))
    make_lot(material=paint, quantity=units(1000))
    assert row_of(paint).level == 333_333


def test_search_finds_every_word_in_name_or_maker() -> None:
    make_material(name="Harbour blue", maker="Tidewrack Colours")
    make_material(name="Harbour grey", maker="Lantern Works")
    assert names(listed(search="harbour tidewrack")) == ["Harbour blue"]


def test_kind_archive_and_free_materials_are_left_out_unless_asked_for() -> None:
    paint, water = make_material(name="A"), make_water(name="W")
    old = make_material(name="Old", is_archived=True)
    canvas = make_surface(name="C")
    assert names(listed()) == names(stock_list()) == ["A", "C"]
    assert names(listed(kind=Kind.SURFACE)) == [canvas.name]
    assert names(listed(archived="true", free="true")) == [paint.name, canvas.name, old.name, water.name]


def test_low_only_keeps_what_has_an_open_alert() -> None:
    low = make_material()
    make_material()
    Alert.objects.create(
        kind="to_reorder", cause=str(low.pk), material=low, since=TODAY, raised_at=AT, figures={"level": 1}
    )
    assert names(stock_list(low_only=True, alerts=alert_levels())) == [low.name]


def test_the_list_of_what_expires_by_a_day_keeps_what_has_a_lot_due_by_then() -> None:
    due, later = make_lot(), make_lot()
    Lot.objects.filter(pk=due.pk).update(best_before=june(20))
    Lot.objects.filter(pk=later.pk).update(best_before=june(21))
    assert names(stock_list(expires_by=june(20))) == [due.material.name]


def test_rows_can_be_put_in_any_of_the_orders_and_back_to_front() -> None:
    cheap, dear = make_lot(cost=money(1)), make_lot(cost=money(2))
    assert names(stock_list(order="-money")) == [dear.material.name, cheap.material.name]


def test_stock_as_of_a_day_is_what_the_postings_of_that_day_and_before_left() -> None:
    lot = make_lot(quantity=units(1000), cost=money(10), on=june(1))
    spill(lot=lot, quantity=units(400), on=june(5))
    spill(lot=lot, quantity=units(100), on=june(3))  # entered later, dated earlier
    seen = [
        (row.quantity, row.money) for day in (1, 3, 4, 5) for row in [row_of(lot.material, as_of=june(day))]
    ]
    assert seen == [
        (units(1000), money(10)),
        (units(900), money(9)),
        (units(900), money(9)),
        (units(500), money(5)),
    ]
    assert row_of(lot.material, as_of=date(2025, 5, 31)).lots == 0


def test_a_reversed_posting_never_was_at_any_day() -> None:
    lot = make_lot(quantity=units(1000), on=june(1))
    take_back(spill(lot=lot, quantity=units(400), on=june(5)))
    assert row_of(lot.material, as_of=june(6)).quantity == units(1000)


def test_a_bottle_opened_since_was_still_sealed_that_day() -> None:
    lot = make_lot(on=june(1))
    Lot.objects.filter(pk=lot.pk).update(opened_on=june(8))
    assert row_of(lot.material, as_of=june(7)).opened_lots == 0
    assert row_of(lot.material, as_of=june(8)).opened_lots == 1


def test_the_list_takes_the_same_few_queries_however_long_it_is() -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            stock_list()
        return len(seen)

    make_lot()
    few = queries()
    make_delivery(lines=[(make_material(), units(10), money(1)) for _ in range(20)])
    assert queries() == few <= 6


def test_a_bottle_keeps_so_many_days_once_opened_if_that_comes_before_its_date() -> None:
    paint = make_material(keeps_days=10)
    lot = make_lot(material=paint, on=june(1))
    Lot.objects.filter(pk=lot.pk).update(opened_on=june(2), best_before=june(30))
    assert held_lots()[0].use_by == june(12)


def test_what_was_mixed_keeps_until_the_day_written_on_it() -> None:
    paint, made = make_material(), make_material(keeps_days=10)
    make_delivery(lines=[(paint, units(100), money(1))], on=june(1))
    version = make_recipe(parts=[(paint, 1)], makes=made)
    make_batch(version=version, quantity=units(100), on=june(1), use_by=june(25))
    assert held_lots()[0].use_by == june(25)


def test_what_expires_is_listed_soonest_first_with_its_worth() -> None:
    past, soon, later = (make_lot(cost=money(amount)) for amount in (1, 2, 3))
    for lot, day in ((past, june(8)), (soon, june(15)), (later, june(30))):
        Lot.objects.filter(pk=lot.pk).update(best_before=day)
    found = expiring_lots(june(10), within_days=7)
    assert [(item.lot, item.days_left, item.money) for item in found] == [
        (past, -2, money(1)),
        (soon, 5, money(2)),
    ]


def test_on_order_is_what_open_orders_still_owe() -> None:
    paint, supplier = make_material(), make_supplier()
    order = make_order((paint, units(1000), money(1)), supplier=supplier)
    line = order.lines.get()
    assert on_order() == {paint.pk: units(1000)}
    delivery = make_delivery(lines=[(paint, units(400), money(4))], supplier=supplier, order=order)
    assert on_order() == {paint.pk: units(600)}  # by the delivery's order
    delivery.lines.update(order_line=line)
    assert on_order() == {paint.pk: units(600)}  # by the order's own line
    take_back(delivery.posting)
    assert on_order() == {paint.pk: units(1000)}  # a reversed delivery never came
    close_order(order=order, submission=make_submission())
    assert on_order() == {}


def test_more_received_than_ordered_is_never_less_than_nothing_on_order() -> None:
    paint, supplier = make_material(), make_supplier()
    order = make_order((paint, units(100), money(1)), supplier=supplier)
    make_order((paint, units(70), money(1)), supplier=supplier)
    make_delivery(lines=[(paint, units(400), money(4))], supplier=supplier, order=order)
    assert on_order() == {paint.pk: units(70)}


@pytest.mark.skipif(
    connection.vendor != "sqlite", reason="Only SQLite plans without knowing how much there is"
)
def test_what_stands_of_one_material_is_found_without_reading_the_whole_ledger() -> None:
    paint = make_material()
    with CaptureQueriesContext(connection) as seen:
        unit_costs([paint])
        list(Entry.objects.uses().filter(material=paint))
    assert not read_whole(seen)


def test_a_unit_costs_what_the_shelf_holds_of_it_cost_or_else_its_last_receipt() -> None:
    held, used_up, never = make_material(), make_material(), make_material()
    water = make_water(free_rate=money(2))
    make_lot(material=held, quantity=units(100), cost=money(1))
    make_lot(material=held, quantity=units(100), cost=money(2))
    make_lot(material=used_up, quantity=units(100), cost=money(1))
    last = make_lot(material=used_up, quantity=units(100), cost=money(3))
    for lot in Lot.objects.filter(material=used_up):
        spill(lot=lot, quantity=units(100))
    assert last.material == used_up
    costs = unit_costs([held, used_up, never, water])
    assert {pk: cost.of(units(100)) for pk, cost in costs.items()} == {
        held.pk: money("1.50"),
        used_up.pk: money(3),
        water.pk: money("0.20"),  # 2.00 a litre
    }


def test_every_millionth_is_somewhere() -> None:
    sold, unsold = make_pour(), make_pour()
    sell(pours=[sold])
    lot = make_lot(quantity=units(1000), cost=money(10))
    spill(lot=lot, quantity=units(300))
    found = worth_by_place()
    assert (found.in_sold, found.in_work, found.lost) == (money("5.50"), money("5.50"), money(3))
    assert [(reason.code, amount) for reason, amount in found.losses] == [("spilled", money(3))]
    assert found.shelf_by_kind == {"paint": money(8) + money(8) + money(7)}
    assert (found.received, found.gains) == (money("13.50") * 2 + money(10), 0)
    assert found.adds_up
    assert unsold


def test_worth_as_of_a_day_leaves_out_what_came_later() -> None:
    make_lot(cost=money(10), on=june(1))
    lot = make_lot(cost=money(20), on=june(5))
    spill(lot=lot, quantity=lot.balance.quantity, on=june(9))
    assert (
        worth_by_place(june(4)).received,
        worth_by_place(june(5)).on_shelf,
        worth_by_place(june(9)).lost,
    ) == (money(10), money(30), money(20))
    assert all(worth_by_place(june(day)).adds_up for day in (4, 5, 9))


def test_worth_and_stock_agree_about_any_day() -> None:
    lot = make_lot(cost=money(10), on=june(1))
    spill(lot=lot, quantity=units(100), on=june(4))
    correct(lot=lot, difference=money(2), on=june(6))
    for day in (1, 3, 4, 5, 6):
        assert sum(row.money for row in stock_list(as_of=june(day))) == worth_by_place(june(day)).on_shelf


def test_a_movement_names_both_ends() -> None:
    lot = make_lot(quantity=units(1000), cost=money(10))
    spill(lot=lot, quantity=units(100))
    spilled, received = account_movements(Entry.objects.filter(lot=lot))
    assert (spilled.quantity, spilled.money, spilled.account_name, spilled.counterpart_name) == (
        -units(100),
        -money(1),
        lot.label,
        "Spill or dropped bottle",
    )
    assert (received.counterpart.place, received.counterpart_name) == (Place.OUTSIDE, "Outside (supplier)")
    assert not spilled.is_reversed


def test_a_movement_taken_back_says_so() -> None:
    lot = make_lot()
    take_back(spill(lot=lot, quantity=units(100)))
    assert [movement.is_reversed for movement in account_movements(Entry.objects.filter(lot=lot))] == [
        True,
        True,
        False,
    ]


def test_the_movements_of_a_posting_go_from_source_to_destination() -> None:
    pour = make_pour(quantity=units(200))
    movements = posted_movements(pour.session.posting)
    assert [(each.destination, each.role, each.money) for each in movements] == [
        (work_in_progress(pour.pk), "surface", money("3.50")),
        (work_in_progress(pour.pk), "poured", money(2)),
    ]
    assert names_in(movements).of(work_in_progress(pour.pk)) == pour.label


def test_movements_take_the_same_queries_however_many_there_are() -> None:
    lot = make_lot(quantity=units(1000))

    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            account_movements(Entry.objects.filter(lot=lot))
        return len(seen)

    spill(lot=lot, quantity=units(1))
    few = queries()
    for _ in range(5):
        spill(lot=lot, quantity=units(1))
    assert queries() == few <= 3


def test_a_card_tells_the_use_of_each_of_twelve_months() -> None:
    lot = make_lot(quantity=units(1000), on=date(2025, 4, 1))
    use(lot=lot, quantity=units(10), on=date(2025, 4, 30))
    use(lot=lot, quantity=units(20), on=june(2))
    take_back(use(lot=lot, quantity=units(500), on=june(3)).posting)
    by_month = use_by_month(lot.material, on=TODAY)
    assert list(by_month)[::11] == [date(2024, 7, 1), date(2025, 6, 1)]
    assert list(by_month.values())[-3:] == [units(10), 0, units(20)]
    assert len(by_month) == 12


def test_receipts_tell_the_unit_cost_through_time() -> None:
    paint = make_material()
    for cost in (10, 12):
        make_lot(material=paint, quantity=units(1000), cost=money(cost))
    assert [receipt.money for receipt in latest_receipts(paint)] == [money(12), money(10)]


def test_decanting_is_neither_a_use_nor_a_receipt() -> None:
    lot = make_lot(quantity=units(1000))
    decant(lot=lot, quantity=units(250), submission=make_submission())
    assert not any(use_by_month(lot.material, on=TODAY).values())
    assert len(latest_receipts(lot.material)) == 1


def test_a_lot_tells_where_it_came_from_and_went() -> None:
    pour = make_pour(quantity=units(200))
    lot = Lot.objects.exclude(material__kind=Kind.SURFACE).get()
    jar = decant(lot=lot, quantity=units(100), submission=make_submission())
    assert lot.delivery_line.delivery == Delivery.objects.get()
    (held,) = held_lots(lots=[lot.pk])
    assert (held.quantity, list(lot.decanted_into.all()), pours_from(lot)) == (units(700), [jar], (pour,))
    assert pours_from(jar) == ()


def test_stock_of_chosen_materials_keeps_their_order() -> None:
    first, second = make_material(name="B"), make_material(name="A")
    chosen = Material.objects.filter(pk__in=[first.pk, second.pk]).order_by("pk")
    assert [row.material for row in stock_of(chosen)] == [first, second]


def test_days_do_not_run_together() -> None:
    """A lot received today holds nothing yesterday."""
    lot = make_lot(on=TODAY)
    assert row_of(lot.material, as_of=TODAY - DAY).quantity == 0
    assert row_of(lot.material, as_of=TODAY + timedelta(days=400)).quantity == lot.balance.quantity
