"""Which packs to buy, and from whom."""

import pytest

from inventory.materials.models import Material, Supplier, Supply
from inventory.materials.queries import best_buy, supplies_of
from tests.making import make_material, make_supplier, money, units

pytestmark = pytest.mark.django_db


def sells(supplier: Supplier, material: Material, size: int, price: int, **facts: object) -> Supply:
    return Supply.objects.create(
        supplier=supplier, material=material, pack_size=units(size), price=money(price), **facts
    )


def test_one_supplier_sends_the_whole_purchase_the_cheapest_in_our_own_currency() -> None:
    paint = make_material()
    for name, currency, price in (("Abroad", "EUR", 1), ("Dear", "GBP", 9), ("Cheap", "GBP", 8)):
        sells(make_supplier(name=name, currency=currency), paint, 500, price)
    buy = best_buy(units(700), supplies_of()[paint.pk], "GBP")
    assert buy is not None
    assert (buy.supplier.name, buy.cost, buy.currency) == ("Cheap", money(16), "GBP")


def test_the_preferred_supplier_is_asked_even_when_dearer_and_in_another_currency() -> None:
    paint = make_material()
    sells(make_supplier(name="Cheap"), paint, 500, 1)
    sells(make_supplier(name="Abroad", currency="EUR"), paint, 500, 9, is_preferred=True)
    buy = best_buy(units(500), supplies_of()[paint.pk], "GBP")
    assert buy is not None
    assert (buy.supplier.name, buy.currency) == ("Abroad", "EUR")


def test_nobody_sells_what_nobody_is_listed_for() -> None:
    assert best_buy(units(1), [], "GBP") is None
