"""What a posting did to the stock: each material before it and after it."""

from dataclasses import dataclass

from django.db.models import Sum

from inventory.ledger.models import Entry, LotBalance, Place, Posting
from inventory.materials.models import Material


@dataclass(frozen=True, slots=True)
class StockChange:
    """How much of a material was in stock before a posting, and after it."""

    material: Material
    before: int
    after: int


def stock_changes(posting: Posting) -> list[StockChange]:
    """What changed in quantity, by name; nothing once any of it moved again, for then it is not what there is now.

    Three queries, however much it is.
    """
    in_lots = Entry.objects.filter(place=Place.LOT).order_by()
    changed = dict(in_lots.filter(posting=posting).values_list("material").annotate(total=Sum("quantity")))
    materials = Material.objects.in_bulk([material for material, total in changed.items() if total])
    now = dict(
        LotBalance.objects.filter(lot__material__in=materials)
        .values_list("lot__material")
        .annotate(total=Sum("quantity"))
    )
    if in_lots.filter(posting__gt=posting.pk, material__in=materials).exclude(quantity=0).exists():
        return []
    after = {material: now.get(material, 0) for material in materials}
    return [
        StockChange(row, after[row.pk] - changed[row.pk], after[row.pk])
        for row in sorted(materials.values(), key=lambda each: each.name.casefold())
    ]
