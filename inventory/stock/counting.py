"""Readers for a stocktake: which lots stand where, what the books say of each, and what a difference is worth.

Quantities are thousandths of the base unit, money millionths of the currency unit.
"""

import re
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from urllib.parse import urlencode

from django.db.models import Count as CountOf
from django.db.models import Q, QuerySet

from inventory.ledger.balances import quantities_on
from inventory.ledger.costing_methods import cost_of_draw
from inventory.ledger.labels import read_lot_label
from inventory.ledger.models import Lot
from inventory.materials.models import Kind, Material, Supply
from inventory.materials.new_in_place import find_named
from inventory.materials.packs import same_gtins
from inventory.purchasing.models import DeliveryLine
from inventory.stock.actions import gains
from inventory.stock.actions.stocktakes import Count
from inventory.stock.models import StocktakeLine
from studio.search.matching import contains
from studio.translation import _
from studio.values.allocation import divide_half_up

_WEIGHED = re.compile(r"Weighed: (.+) less (.+) empty")
_COUNTED = re.compile(r"Counted: (.+)")
NOWHERE = "-"  # how an address says that no place is recorded


@dataclass(frozen=True, slots=True)
class Shelf:
    """A place or a kind of material, how an address says it, and how many lots hold something there."""

    query: str
    name: str
    lots: int


def places() -> list[Shelf]:
    """Every place with lots that hold something; those without a place noted come first."""
    rows = Lot.objects.on_shelf().order_by("place").values_list("place").annotate(CountOf("pk"))
    return [
        Shelf(urlencode({"place": place or NOWHERE}), place or _("No place recorded"), lots)
        for place, lots in rows
    ]


def kinds() -> list[Shelf]:
    """Every kind of material with lots that hold something."""
    rows = Lot.objects.on_shelf().order_by().values_list("material__kind").annotate(CountOf("pk"))
    return [Shelf(urlencode({"kind": kind}), str(Kind(kind).label), lots) for kind, lots in sorted(rows)]


def lots_to_count(
    *,
    kind: str = "",
    place: str | None = None,
    emptied_since: date | None = None,
    code: str = "",
    also: Collection[int] = (),
) -> list[Lot]:
    """Lots that hold something, by place and material, each with its balance; of one kind or place if asked.

    With `emptied_since`, lots that became empty from that day on as well: a bottle thought empty may not be. `also`
    names lots to list whatever they hold.
    """
    wanted = Q(balance__quantity__gt=0)
    if emptied_since is not None:
        wanted |= Q(balance__quantity=0, entries__posting__effective_on__gte=emptied_since)
    if kind:
        wanted &= Q(material__kind=kind)
    if place is not None:
        wanted &= Q(place=place)
    if code:
        wanted = wanted & (_of_pack(code) | _of_named(code)) | _is_lot(code)
    if also:
        wanted |= Q(pk__in=also)
    chosen = Lot.objects.filter(pk__in=Lot.objects.filter(wanted).values("pk"))
    return list(chosen.select_related("material", "balance").order_by("place", "material__name", "pk"))


def _of_pack(code: str) -> Q:
    """Lots of a material that is sold in a pack with this barcode."""
    return Q(material__in=_packs(code).values("material"))


def _packs(code: str) -> QuerySet[Supply]:
    return Supply.objects.filter(barcode__in=same_gtins("".join(code.split())))


def _of_named(name: str) -> Q:
    """Lots of the material of this name; where none is called so, of every material with all of its words."""
    kept = Material.objects.filter(is_archived=False)
    named = find_named(name, kept)
    if named is not None:
        return Q(material=named)
    for word in name.split():
        kept = kept.filter(contains(word, "name"))
    return Q(material__in=kept.values("pk")) if name.split() else Q(pk__in=[])


def _is_lot(code: str) -> Q:
    """The lot with this label."""
    number = read_lot_label("".join(code.split()))
    return Q(pk__in=[] if number is None else [number])


def is_known(code: str) -> bool:
    """Whether a pack has this barcode, a lot this label, or a material with stock this name or these words in it."""
    named = _of_named(code) & Q(balance__quantity__gt=0)
    return Lot.objects.filter(_is_lot(code) | named).exists() or bool(_packs(code).exists())


def barcodes_of(lots: Iterable[Lot]) -> dict[int, str]:
    """The barcodes of the packs in which the materials of these lots are sold, by material."""
    found: dict[int, str] = {}
    packs = Supply.objects.filter(material__in={lot.material_id for lot in lots}).exclude(barcode="")
    for material, barcode in packs.order_by("barcode").values_list("material_id", "barcode"):
        found[material] = f"{found.get(material, '')} {barcode}".strip()
    return found


def pack_sizes(lots: Sequence[Lot]) -> dict[int, int]:
    """What a full bottle of each lot holds: as it was delivered, else the only size that its material is sold in."""
    sold: dict[int, set[int]] = {}
    packs = Supply.objects.filter(material__in={lot.material_id for lot in lots})
    for material, size in packs.values_list("material_id", "pack_size"):
        sold.setdefault(material, set()).add(size)
    delivered = {
        line.lot_id: line.quantity // line.packs for line in DeliveryLine.objects.filter(lot__in=lots)
    }
    only = {lot.pk: min(sizes) for lot in lots if len(sizes := sold.get(lot.material_id, set())) == 1}
    return only | delivered


def expected(lot: Lot) -> int:
    """What the books say a lot holds."""
    balance = getattr(lot, "balance", None)
    return balance.quantity if balance else 0


def method_in_words(how: str) -> str:
    """How a lot was counted, in the reader's language. It is kept in English, so that a request sent twice is known."""
    if weighed := _WEIGHED.fullmatch(how):
        return _("Weighed: {gross} less {empty} empty", gross=weighed[1], empty=weighed[2])
    if found := _COUNTED.fullmatch(how):
        return _("Counted: {amount}", amount=found[1])
    return _("Counted") if how == "counted" else how


@dataclass(frozen=True, slots=True)
class ValuedLine:
    """A line of a stocktake, saved or about to be, and what its difference is worth: above zero when found."""

    line: StocktakeLine
    money: int


def valued(counts: Sequence[Count], *, on: date) -> list[ValuedLine]:
    """What each count of a day would post, valued as the writer values it."""
    there = quantities_on(on, [each.lot for each in counts])
    return [
        ValuedLine(
            StocktakeLine(lot=each.lot, expected=there[each.lot.pk], counted=each.counted, how=each.how),
            _value(each, each.counted - there[each.lot.pk]),
        )
        for each in counts
    ]


def _value(count: Count, gain: int) -> int:
    held, money = expected(count.lot), getattr(getattr(count.lot, "balance", None), "money", 0)
    if gain <= 0:
        return -cost_of_draw(held, money, -gain)
    return divide_half_up(money * gain, held) if held else gains.usual_cost(count.lot.material, gain)
