"""Who sells a material, and which packs to buy of it."""

from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from inventory.materials import packs
from inventory.materials.models import Supplier, Supply


@dataclass(frozen=True, slots=True)
class BuyLine:
    """So many packs of one supply."""

    supply: Supply
    packs: int


@dataclass(frozen=True, slots=True)
class Buy:
    """What to buy of one material from one supplier, at prices in that supplier's currency (millionths)."""

    material: int
    wanted: int
    supplier: Supplier
    lines: tuple[BuyLine, ...]
    quantity: int
    cost: int

    @property
    def currency(self) -> str:
        return self.supplier.currency


def supplies_of(materials: Collection[int] | None = None) -> dict[int, list[Supply]]:
    """Who sells each material, the preferred supply first."""
    by_material: dict[int, list[Supply]] = defaultdict(list)
    supplies = Supply.objects.select_related("supplier").order_by(
        "-is_preferred", "supplier__name", "pack_size"
    )
    if materials is not None:
        supplies = supplies.filter(material__in=materials)
    for supply in supplies:
        by_material[supply.material_id].append(supply)
    return by_material


def best_buy(wanted: int, supplies: Sequence[Supply], home_currency: str) -> Buy | None:
    """The packs to buy for a wanted quantity, all from one supplier. None when nobody sells it.

    The preferred supplier if there is one; else the one that charges least among those who charge in the studio's own
    currency, since prices in other currencies cannot be compared without a day's rate; else the first by name.
    """
    by_supplier: dict[int, list[Supply]] = defaultdict(list)
    for supply in supplies:
        by_supplier[supply.supplier_id].append(supply)
    offers = [_buy(wanted, sold) for sold in by_supplier.values()]
    if not offers or supplies[0].is_preferred:
        return offers[0] if offers else None
    at_home = [offer for offer in offers if offer.currency == home_currency]
    return min(at_home or offers[:1], key=lambda offer: offer.cost)


def _buy(wanted: int, supplies: Sequence[Supply]) -> Buy:
    offers = [
        packs.Offer(supply.pk, supply.pack_size, supply.price, supply.minimum_packs) for supply in supplies
    ]
    purchase = packs.cheapest_packs(wanted, offers)
    by_id = {supply.pk: supply for supply in supplies}
    return Buy(
        material=supplies[0].material_id,
        wanted=wanted,
        supplier=supplies[0].supplier,
        lines=tuple(BuyLine(by_id[line.offer.supply], line.packs) for line in purchase.lines),
        quantity=purchase.quantity,
        cost=purchase.cost,
    )
