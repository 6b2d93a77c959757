"""Who sells a material, and how what is to be bought of it is told."""

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass

from inventory.materials.models import Supplier, Supply
from inventory.materials.packs import same_gtins


@dataclass(frozen=True, slots=True)
class BuyLine:
    """So many packs of one supply."""

    supply: Supply
    packs: int


@dataclass(frozen=True, slots=True)
class Buy:
    """What to buy of one material from one supplier; `cost` in that supplier's currency (millionths)."""

    material: int
    supplier: Supplier
    lines: tuple[BuyLine, ...]
    quantity: int
    cost: int

    @property
    def currency(self) -> str:
        return self.supplier.currency


def pack_with_barcode(code: str) -> Supply | None:
    """A pack with this barcode, blanks and zeros in front aside; the same goods may come from several suppliers."""
    packs = Supply.objects.filter(barcode__in=same_gtins("".join(code.split()))).select_related("material")
    return packs.order_by("-is_preferred", "pk").first()


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
