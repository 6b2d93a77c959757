"""What the tests of the shopping list begin with."""

from typing import Any

from inventory.materials.models import Material, PriceBreak, Supplier, Supply
from inventory.shopping.queries import Line, ShoppingList, shopping_list
from tests.days import TODAY
from tests.making import make_material, make_supplier, money, units


def sells(
    supplier: Supplier,
    material: Material,
    size: int,
    price: int | str,
    *breaks: tuple[int, int],
    **facts: Any,
) -> Supply:
    supply = Supply.objects.create(
        supplier=supplier, material=material, pack_size=units(size), price=money(price), **facts
    )
    PriceBreak.objects.bulk_create(
        PriceBreak(supply=supply, from_packs=packs, price=money(each)) for packs, each in breaks
    )
    return supply


def low(level: int = 300, **facts: Any) -> Material:
    """A material of which there is nothing, with a level of the owner's own: it is filled to twice that."""
    return make_material(reorder_level=units(level), **facts)


def quay(**facts: Any) -> Supplier:
    return make_supplier(**{"name": "Limpet Quay Colours"} | facts)


def the_list() -> ShoppingList:
    return shopping_list(TODAY)


def packs_of(listed: ShoppingList, material: Material) -> dict[Supply, int]:
    return {packs.supply: packs.count for line in lines_of(listed, material) for packs in line.packs}


def lines_of(listed: ShoppingList, material: Material) -> list[Line]:
    return [line for line in listed.lines if line.material == material]
