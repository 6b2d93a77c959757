"""What comes in: deliveries with their landed cost, and opening stock."""

from datetime import date
from decimal import Decimal
from functools import partial
from typing import Any

import pytest

from inventory.errors import InventoryError, LedgerError
from inventory.ledger.models import Entry, Lot, Place
from inventory.materials.models import Material
from inventory.purchasing.actions.deliveries import OpeningLine, landed_costs, open_stock, receive_delivery
from inventory.purchasing.actions.delivery_facts import MOST_PACKS, LineFacts, PackedLine
from inventory.purchasing.actions.orders import OrderFacts
from inventory.purchasing.models import Delivery
from studio.accounts.models import User
from studio.values.money import share_to_minor
from tests import making
from tests.days import AT, DAY, TODAY
from tests.inventory.invariants import refused, unchanged, wrong_places
from tests.making import delivery_facts, held, money, units

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]


def landed(delivery: Delivery) -> list[int]:
    return list(delivery.lines.order_by("pk").values_list("landed", flat=True))


def make_counted(number: int) -> list[Material]:
    return [making.make_material(kind="sundry", measure="count") for _ in range(number)]


def test_carriage_is_shared_by_value_as_in_the_accounting_exercise() -> None:
    # Inputs and unit costs of a practice exercise, from memory: 20 at 50.00, 30 at 75.00, 40 at 100.00, carriage 750;
    # it prints 55.172, 82.758 and 110.344 a unit and 8,000 in all. The shares follow by arithmetic:
    # 750 × 1,000/7,250 = 103.4482758…, × 2,250/7,250 = 232.7586206…, × 4,000/7,250 = 413.7931034…
    materials = make_counted(3)
    lines = [
        (material, units(number), money(number * price))
        for material, number, price in zip(materials, (20, 30, 40), (50, 75, 100), strict=True)
    ]
    delivery = making.make_delivery(lines=lines, carriage=money(750))
    assert landed(delivery) == [1_103_448_276, 2_482_758_621, 4_413_793_103]
    assert sum(landed(delivery)) == money(8_000)
    per_unit = [cost // number // 1_000 for cost, number in zip(landed(delivery), (20, 30, 40), strict=True)]
    assert per_unit == [55_172, 82_758, 110_344]


def test_freight_at_eight_per_cent_is_added_to_each_item() -> None:
    # A cost-accounting textbook's passage, from memory: materials 600, freight 48, so 8 % on each item.
    first, second, third = make_counted(3)
    lines = [(first, 1, money(100)), (second, 1, money(200)), (third, 1, money(300))]
    delivery = making.make_delivery(lines=lines, carriage=money(48))
    assert landed(delivery) == [money(108), money(216), money(324)]


def test_freight_by_weight_follows_the_invoice_weight() -> None:
    # Same passage: an item of 300 lb on an invoice of 1,700 lb bears 300/1700 × 48 = 8.470588.
    clay, chalk = (making.make_material(measure="mass") for _ in range(2))
    lines = [(clay, units(300), 0), (chalk, units(1_400), 0)]
    delivery = making.make_delivery(lines=lines, carriage=money(48), carriage_shared_by="mass")
    assert landed(delivery) == [8_470_588, 39_529_412]


def test_freight_in_is_part_of_what_the_goods_cost() -> None:
    # OpenStax Principles of Accounting Vol. 1, freight-in: 30 units at 80 and 1,000 of carriage come to 3,400.
    [desks] = make_counted(1)
    delivery = making.make_delivery(lines=[(desks, units(30), money(2_400))], carriage=money(1_000))
    lot = delivery.lines.get().lot
    assert held(lot) == (units(30), money(3_400))
    making.spill(lot=lot, quantity=units(1))
    assert money(3_400) - held(lot)[1] == 113_333_333


def test_a_hundred_over_three_equal_lines_adds_up_to_a_hundred() -> None:
    # By arithmetic: 33.33 three times would lose a penny; largest remainder gives 33.34, 33.33, 33.33.
    lines = [(material, units(1), 0) for material in make_counted(3)]
    delivery = making.make_delivery(lines=lines, carriage=money(100))
    assert landed(delivery) == [33_333_334, 33_333_333, 33_333_333]
    assert share_to_minor(landed(delivery), "GBP") == [money("33.34"), money("33.33"), money("33.33")]


def test_duty_and_tax_that_cannot_be_reclaimed_are_cost_and_go_by_value() -> None:
    # IAS 2 paragraph 11: import duties and taxes not recoverable belong to the cost of purchase.
    first, second = make_counted(2)
    delivery = making.make_delivery(
        lines=[(first, 1, money(30)), (second, 1, money(10))], duty=money(4), tax=money("0.01")
    )
    assert landed(delivery) == [money("33.0075"), money("11.0025")]


def test_carriage_by_weight_uses_each_paint_s_density_while_duty_stays_by_value() -> None:
    paint = making.make_material(density=1_500_000)
    paste = making.make_material(measure="mass")
    lines = [(paint, units(200), money(1)), (paste, units(100), money(3))]  # 300 g and 100 g
    delivery = making.make_delivery(
        lines=lines, carriage=money(8), carriage_shared_by="mass", duty=money(4), at=AT
    )
    assert landed(delivery) == [money(1 + 6 + 1), money(3 + 2 + 3)]


def test_carriage_by_weight_asks_for_a_missing_density(owner: User) -> None:
    canvas = making.make_surface(name="Round board")
    facts = delivery_facts(lines=[LineFacts(canvas, 1, 0)], carriage=money(1), carriage_shared_by="mass")
    with refused(InventoryError, match=r"Round board is unknown. Enter its density"):
        receive_delivery(facts=facts, submission=making.make_submission(by=owner))


def test_free_samples_share_carriage_evenly() -> None:
    lines = [(material, units(1), 0) for material in make_counted(2)]
    assert landed(making.make_delivery(lines=lines, carriage=money(3))) == [money("1.50"), money("1.50")]


def test_a_foreign_purchase_is_kept_as_invoiced_and_costed_at_its_rate(owner: User) -> None:
    [brushes] = make_counted(1)
    facts = delivery_facts(
        lines=[LineFacts(brushes, units(3), money("19.99"))],
        currency="USD",
        rate=Decimal("0.7875"),
        rate_on=TODAY - DAY,
        carriage=money(2),
    )
    delivery = receive_delivery(facts=facts, submission=making.make_submission(by=owner))
    # 19.99 × 0.7875 = 15.742125, and carriage in the studio's own money
    assert landed(delivery) == [money("17.742125")]
    assert (delivery.currency, delivery.lines.get().price) == ("USD", money("19.99"))
    assert (delivery.rate, delivery.invoiced, delivery.paid) == (
        Decimal("0.7875"),
        money("19.99"),
        money("15.742125"),
    )


def test_each_line_becomes_a_lot_with_its_dates_and_place(owner: User) -> None:
    paint = making.make_material()
    line = LineFacts(
        paint,
        units(500),
        money(6),
        best_before=date(2027, 6, 1),
        place="Net loft, shelf 2",
        supplier_batch="QL-77",
        empty_weight=units(38),
    )
    lot = deliver(owner, lines=[line, LineFacts(paint, units(250), money(4))]).lines.order_by("pk")[0].lot
    assert (lot.origin, lot.received_on, lot.opened_on) == (Lot.Origin.DELIVERY, TODAY, None)
    assert (lot.place, lot.supplier_batch, lot.empty_weight) == ("Net loft, shelf 2", "QL-77", units(38))
    assert Lot.objects.filter(material=paint).count() == 2


def test_the_money_comes_from_outside() -> None:
    paint = making.make_material()
    making.make_delivery(lines=[(paint, units(500), money(6))], carriage=money(1))
    gave = Entry.objects.get(place=Place.OUTSIDE)
    assert (gave.material, gave.quantity, gave.money) == (paint, -units(500), -money(7))


def test_a_delivery_may_close_its_order(owner: User) -> None:
    paint, supplier = making.make_material(), making.make_supplier()
    order = making.make_order((paint, units(500)), supplier=supplier, on=TODAY - 5 * DAY)
    line = LineFacts(paint, units(500), money(6), order_line=order.lines.get())
    deliver(owner, lines=[line], supplier=supplier, order=order, close_order=True)
    order.refresh_from_db()
    assert order.is_closed
    assert order.lines.get().received.get().quantity == units(500)


@pytest.mark.parametrize(
    ("spoilt", "fields"),
    [
        ({"carriage": -1}, ["carriage"]),
        ({"duty": -1}, ["duty"]),
        ({"tax": -1}, ["tax"]),
        ({"tax": 1}, ["tax"]),  # a millionth of a pound is no price
        ({"currency": "XXZ"}, ["currency"]),
        ({"rate": Decimal(0)}, ["rate"]),
        ({"rate": Decimal("0.86")}, ["rate"]),  # of pounds in pounds
        ({"currency": "EUR"}, ["rate"]),
        ({"paid": 1_000_000}, ["paid"]),
        ({"currency": "EUR", "rate": Decimal("0.86"), "paid": 1_000_000}, ["paid"]),
        ({"currency": "EUR", "paid": 0}, ["paid"]),
        ({"currency": "EUR", "paid": -1}, ["paid"]),
        ({"currency": "EUR", "paid": 1}, ["paid"]),  # a millionth of a pound is no payment
        ({"currency": "EUR", "rate": Decimal("1E-19")}, ["rate"]),
        ({"currency": "EUR", "rate": Decimal(0), "carriage": -1, "duty": 9}, ["rate", "carriage", "duty"]),
    ],
)
def test_it_refuses_a_header_that_makes_no_sense_and_says_where(
    spoilt: dict[str, Any], fields: list[str]
) -> None:
    lines = [LineFacts(making.make_material(), 1)]
    assert wrong_places(lambda: delivery_facts(lines=lines, **spoilt)) == fields


def test_it_refuses_a_delivery_of_nothing() -> None:
    assert wrong_places(lambda: delivery_facts(lines=[])) == ["lines"]


@pytest.mark.parametrize(
    ("line", "field"),
    [
        ((0, 1, 1), "pack"),
        ((-5, 1, 1), "pack"),
        ((1, -1, 1), "price"),
        ((1, 1, 0), "packs"),
        ((1, 1, MOST_PACKS + 1), "packs"),
        ((10**12, 1, MOST_PACKS), "pack"),  # number is too large
    ],
)
def test_it_refuses_a_line_that_makes_no_sense(line: tuple[int, int, int], field: str) -> None:
    [material] = make_counted(1)
    for facts in (LineFacts, PackedLine):
        assert wrong_places(partial(facts, material, *line)) == [field]


def test_it_refuses_lines_finer_than_the_currency_and_says_which() -> None:
    first, second, third = make_counted(3)
    lines = [LineFacts(first, 1, 1), LineFacts(second, 1, money(1)), LineFacts(third, 1, money("1.001"))]
    assert wrong_places(lambda: delivery_facts(lines=lines)) == [("lines", 1, "price"), ("lines", 3, "price")]
    rial = making.make_supplier(currency="OMR")
    delivery_facts(lines=lines[1:], supplier=rial, currency="", rate=Decimal(2))


def test_a_line_answers_a_line_of_the_same_order_and_material_only() -> None:
    supplier, (paint, other) = making.make_supplier(), make_counted(2)
    order, second = (making.make_order((paint, units(5)), supplier=supplier) for _ in range(2))
    lines = [
        LineFacts(paint, 1, order_line=order.lines.get()),
        LineFacts(paint, 1, order_line=second.lines.get()),
        LineFacts(other, 1, order_line=order.lines.get()),
    ]
    wrong = wrong_places(lambda: delivery_facts(lines=lines, supplier=supplier, order=order))
    assert wrong == [("lines", 2, "order_line"), ("lines", 3, "order_line")]
    assert wrong_places(lambda: delivery_facts(lines=lines[:1], supplier=supplier)) == [
        ("lines", 1, "order_line")
    ]
    assert wrong_places(lambda: delivery_facts(lines=lines[:1], order=order)) == ["order"]


def test_the_currency_is_the_suppliers_own_unless_another_is_written() -> None:
    lines, supplier = [LineFacts(making.make_material(), 1)], making.make_supplier(currency="EUR")
    header = delivery_facts(lines=lines, supplier=supplier, currency="", rate=Decimal("0.86")).header
    assert (header.currency, header.rate, header.rate_on) == ("EUR", Decimal("0.86"), TODAY)
    header = delivery_facts(lines=lines, supplier=supplier, currency=" gbp ").header
    assert (header.currency, header.rate, header.rate_on) == ("GBP", None, None)


def test_it_refuses_to_stock_tap_water() -> None:
    water = making.make_water()
    for facts in (LineFacts, PackedLine, OpeningLine):
        assert wrong_places(partial(facts, water, 1, 1)) == ["material"]


def test_it_refuses_an_order_that_makes_no_sense() -> None:
    supplier, (paint,) = making.make_supplier(), make_counted(1)
    line = PackedLine(paint, 1)
    assert wrong_places(lambda: OrderFacts(supplier, TODAY, [])) == ["lines"]
    assert wrong_places(lambda: OrderFacts(supplier, TODAY, [line], TODAY - DAY)) == ["expected_on"]
    lines = [line, PackedLine(paint, 1, 5)]
    assert wrong_places(lambda: OrderFacts(supplier, TODAY, lines)) == [("lines", 2, "price")]


def test_landed_cost_can_be_asked_before_anything_is_posted() -> None:
    first, second = make_counted(2)
    facts = delivery_facts(
        lines=[LineFacts(first, 1, money(1)), LineFacts(second, 1, money(3))], carriage=money(4)
    )
    with unchanged():
        assert landed_costs(facts) == [money(2), money(6)]


def test_opening_stock_puts_each_line_on_the_shelf_at_its_cost() -> None:
    first, second = make_counted(2)
    posting = making.make_opening(lines=[(first, units(3), money(9)), (second, units(1), 0)])
    assert posting.kind == "opening"
    lots = Lot.objects.order_by("pk")
    assert [held(lot) for lot in lots] == [(units(3), money(9)), (units(1), 0)]
    assert {lot.origin for lot in lots} == {Lot.Origin.OPENING}


@pytest.mark.parametrize(("lines", "field"), [([], "lines"), ([(0, 1)], "quantity"), ([(1, -1)], "money")])
def test_it_refuses_opening_stock_that_makes_no_sense(
    lines: list[tuple[int, int]], field: str, owner: User
) -> None:
    material = making.make_material()

    def enter() -> None:
        opening = [OpeningLine(material, quantity, cost) for quantity, cost in lines]
        open_stock(lines=opening, submission=making.make_submission(by=owner))

    assert wrong_places(enter) == [field]


def test_it_refuses_a_delivery_from_the_future(owner: User) -> None:
    facts = delivery_facts(lines=[LineFacts(making.make_material(), 1)], received_on=TODAY + 5 * DAY)
    with refused(LedgerError, match="future"):
        receive_delivery(facts=facts, submission=making.make_submission(by=owner))


def deliver(by: User, **facts: Any) -> Delivery:
    return receive_delivery(facts=delivery_facts(**facts), submission=making.make_submission(by=by))
