"""The list is added to, ticked, and becomes orders: nothing twice, nothing half."""

import pytest
from django.db import IntegrityError, transaction

from inventory.materials.models import Material, PriceBreak, Supplier
from inventory.purchasing.models import Order
from inventory.shopping.actions import (
    Addition,
    ListChanged,
    add_to_list,
    choose,
    clear_ticked,
    leave_to_the_list,
    order_from_list,
    tick,
)
from inventory.shopping.models import ShoppingEntry
from studio.errors import InputError
from tests.days import AT, TODAY
from tests.inventory.shopping.stories import low, packs_of, quay, sells, the_list
from tests.making import (
    make_delivery,
    make_material,
    make_submission,
    make_supplier,
    make_water,
    money,
    units,
)

pytestmark = pytest.mark.django_db


def pairs() -> list[tuple[int, int]]:
    return [(packs.supply.pk, packs.count) for line in the_list().lines for packs in line.packs]


@pytest.mark.parametrize(
    ("facts", "field"),
    [({}, "text"), ({"text": "x" * 121}, "text"), ({"text": "rope", "quantity": 5}, "quantity")],
)
def test_an_addition_says_what_is_wrong_with_it(facts: dict[str, object], field: str) -> None:
    with pytest.raises(InputError) as refusal:
        Addition(**facts)  # type: ignore[arg-type]
    assert refusal.value.field == field


def test_water_and_archived_materials_are_not_bought_and_an_amount_is_needed() -> None:
    for material, field in (
        (make_water(), "material"),
        (make_material(is_archived=True), "material"),
        (make_material(), "quantity"),
    ):
        with pytest.raises(InputError) as refusal:
            Addition(material)
        assert refusal.value.field == field


def test_the_same_words_stand_on_the_list_once() -> None:
    for text in ("Kitchen roll", "  kitchen   ROLL "):
        add_to_list(addition=Addition(text=text), submission=make_submission())
    assert [entry.text for entry in the_list().others] == ["Kitchen roll"]


def test_a_tick_can_be_taken_back_and_leaves_nothing_behind() -> None:
    paint = low()
    sells(quay(), paint, 600, 9)
    for ticked in (True, True, False, False):
        tick(material=paint, ticked=ticked, submission=make_submission())
        assert the_list().lines[0].is_ticked == ticked
    assert not ShoppingEntry.objects.exists()


def test_a_choice_is_taken_back_and_fewer_packs_than_the_minimum_are_refused() -> None:
    paint, shop = low(), quay()
    cheap, other = sells(shop, paint, 600, 9), sells(shop, paint, 100, 9, minimum_packs=3)
    with pytest.raises(InputError, match="from 3 to"):
        choose(supply=other, packs=2, submission=make_submission())
    choose(supply=other, packs=3, submission=make_submission())
    assert packs_of(the_list(), paint) == {other: 3}
    leave_to_the_list(material=paint, submission=make_submission())
    assert (packs_of(the_list(), paint), ShoppingEntry.objects.count()) == ({cheap: 1}, 0)


def test_one_touch_makes_one_order_for_each_supplier_with_its_lines_and_prices() -> None:
    paint, brush = low(), low(5, measure="count", density=None)
    sells(quay(), paint, 100, 4, (6, 3))
    sells(make_supplier(name="Sluice Shop"), brush, 10, 12)
    orders = order_from_list(packs=pairs(), submission=make_submission())
    assert {order.supplier.name for order in orders} == {"Limpet Quay Colours", "Sluice Shop"}
    lines = {line.material: (line.quantity, line.price) for order in orders for line in order.lines.all()}
    assert lines == {paint: (units(600), money(18)), brush: (units(10), money(12))}
    assert the_list().is_empty


def test_the_same_touch_sent_again_orders_once_and_another_is_refused() -> None:
    paint = low()
    sells(quay(), paint, 600, 9)
    seen, first = pairs(), make_submission(key="one")
    assert order_from_list(packs=seen, submission=first) == order_from_list(packs=seen, submission=first)
    with pytest.raises(ListChanged):
        order_from_list(packs=seen, submission=make_submission(key="another"))
    assert Order.objects.count() == 1


def test_a_list_that_has_changed_orders_nothing_at_all() -> None:
    paint, other = low(), low()
    sells(quay(), paint, 600, 9)
    sells(make_supplier(name="Sluice Shop"), other, 600, 9)
    seen = pairs()
    add_to_list(addition=Addition(other, units(900)), submission=make_submission())
    with pytest.raises(ListChanged):
        order_from_list(packs=seen, submission=make_submission(key="one"))
    assert not Order.objects.exists()


def test_what_is_in_the_basket_is_not_ordered() -> None:
    paint, other, shop = low(), low(), quay()
    sells(shop, paint, 600, 9)
    sells(shop, other, 600, 9)
    seen = pairs()
    tick(material=paint, ticked=True, submission=make_submission())
    with pytest.raises(ListChanged):
        order_from_list(packs=seen, submission=make_submission())
    supply = packs_of(the_list(), other)
    (order,) = order_from_list(
        packs=[(each.pk, count) for each, count in supply.items()], submission=make_submission()
    )
    assert [line.material for line in order.lines.all()] == [other]


def test_nothing_and_unknown_packs_are_refused() -> None:
    for packs in ([], [(99, 1)]):
        with pytest.raises(InputError):
            order_from_list(packs=packs, submission=make_submission())


def test_what_was_added_is_done_once_it_is_ordered() -> None:
    gold = make_material()
    sells(quay(), gold, 250, 9)
    add_to_list(addition=Addition(gold, units(250)), submission=make_submission())
    order_from_list(packs=pairs(), submission=make_submission())
    assert (the_list().is_empty, ShoppingEntry.objects.exists()) == (True, False)


@pytest.mark.django_db(transaction=True)
def test_what_is_ticked_is_done_once_its_delivery_is_logged() -> None:
    gold, other = make_material(), make_material()
    for material in (gold, other):
        add_to_list(addition=Addition(material, units(250)), submission=make_submission())
    tick(material=gold, ticked=True, submission=make_submission())
    make_delivery(lines=[(gold, units(250), money(9)), (other, units(10), money(1))], at=AT)
    assert [entry.material for entry in ShoppingEntry.objects.all()] == [other]


def test_everything_ticked_can_be_removed() -> None:
    entry = add_to_list(addition=Addition(text="Kitchen roll"), submission=make_submission())
    add_to_list(addition=Addition(text="Rope"), submission=make_submission())
    tick(entry=entry, ticked=True, submission=make_submission())
    assert clear_ticked(submission=make_submission()) == 1
    assert [entry.text for entry in the_list().others] == ["Rope"]


def test_a_pack_that_is_deleted_leaves_what_was_added() -> None:
    paint = make_material()
    supply = sells(quay(), paint, 600, 9)
    add_to_list(addition=Addition(paint, units(50)), submission=make_submission())
    choose(supply=supply, packs=2, submission=make_submission())
    supply.delete()
    assert [need.added for need in the_list().unsold] == [units(50)]


# The database's last word


def bad_entries(material: Material, supplier: Supplier) -> dict[str, ShoppingEntry]:
    supply = sells(supplier, material, 1, 1)
    return {
        "of_something": ShoppingEntry(added_at=AT),
        "of_something ": ShoppingEntry(added_at=AT, material=material, text="both"),
        "quantity_sensible": ShoppingEntry(added_at=AT, material=material, quantity=0),
        "quantity_sensible ": ShoppingEntry(added_at=AT, text="rope", quantity=5),
        "choice_whole": ShoppingEntry(added_at=AT, material=material, supply=supply),
        "choice_whole ": ShoppingEntry(added_at=AT, material=material, supply=supply, packs=0),
        "quantity_whole": ShoppingEntry(added_at=AT, material=material, quantity=9 * 10**15 + 1),
    }


@pytest.mark.parametrize("number", range(7))
def test_the_database_refuses_entries_that_make_no_sense(number: int) -> None:
    name, entry = list(bad_entries(make_material(), quay()).items())[number]
    with pytest.raises(IntegrityError, match=name.strip()), transaction.atomic():
        ShoppingEntry.objects.bulk_create([entry])


def test_the_database_refuses_the_same_words_twice() -> None:
    rows = [ShoppingEntry(added_at=AT, text="rope") for _time in range(2)]
    with pytest.raises(IntegrityError), transaction.atomic():
        ShoppingEntry.objects.bulk_create(rows)


@pytest.mark.parametrize(
    "facts",
    [
        {"from_packs": 1, "price": 5},
        {"from_packs": 2, "price": -1},
        {"from_packs": 2, "price": 9 * 10**15 + 1},
    ],
)
def test_the_database_refuses_price_breaks_that_make_no_sense(facts: dict[str, int]) -> None:
    supply = sells(quay(), make_material(), 1, 1)
    with pytest.raises(IntegrityError, match="pricebreak_"), transaction.atomic():
        PriceBreak.objects.bulk_create([PriceBreak(supply=supply, **facts)])


@pytest.mark.parametrize(
    "facts",
    [
        {"carriage": -1},
        {"free_carriage_from": 0},
        {"minimum_order": 0},
        {"exchange_rate": 0},
        {"carriage": 10**16},
    ],
)
def test_the_database_refuses_terms_that_make_no_sense(facts: dict[str, int]) -> None:
    supplier = quay()
    with pytest.raises(IntegrityError, match="supplier_"), transaction.atomic():
        Supplier.objects.filter(pk=supplier.pk).update(**facts)


def test_the_database_refuses_a_storage_limit_of_nothing() -> None:
    material = make_material()
    with pytest.raises(IntegrityError, match="material_storage"), transaction.atomic():
        Material.objects.filter(pk=material.pk).update(storage_limit=0)


def test_today_is_the_day_of_the_order() -> None:
    paint = low()
    sells(quay(lead_time_days=4), paint, 600, 9)
    (order,) = order_from_list(packs=pairs(), submission=make_submission())
    assert (order.ordered_on, (order.expected_on - TODAY).days if order.expected_on else None) == (TODAY, 4)
