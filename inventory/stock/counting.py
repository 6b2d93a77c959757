"""Readers for a count: which lots stand where, what the books say of each, and what a difference is worth.

Quantities are thousandths of the base unit, money millionths of the currency unit.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Count as CountOf
from django.db.models import Q

from inventory.ledger.costing_methods import cost_of_draw
from inventory.ledger.models import Lot
from inventory.stock.actions import gains
from inventory.stock.actions.stocktakes import Count
from studio.values.allocation import divide_half_up


@dataclass(frozen=True, slots=True)
class Shelf:
    """A place or a kind of material, and how many lots hold something there."""

    name: str
    lots: int


def places() -> list[Shelf]:
    """Every place with lots that hold something; those without a place noted have an empty name."""
    rows = Lot.objects.on_shelf().order_by("place").values_list("place").annotate(CountOf("pk"))
    return [Shelf(*row) for row in rows]


def kinds() -> list[Shelf]:
    """Every kind of material with lots that hold something."""
    rows = Lot.objects.on_shelf().order_by().values_list("material__kind").annotate(CountOf("pk"))
    return [Shelf(*row) for row in sorted(rows)]


def lots_to_count(
    *, kind: str = "", place: str | None = None, emptied_since: date | None = None, also: Collection[int] = ()
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
    if also:
        wanted |= Q(pk__in=also)
    chosen = Lot.objects.filter(pk__in=Lot.objects.filter(wanted).values("pk"))
    return list(chosen.select_related("material", "balance").order_by("place", "material__name", "pk"))


def expected(lot: Lot) -> int:
    """What the books say a lot holds."""
    balance = getattr(lot, "balance", None)
    return balance.quantity if balance else 0


@dataclass(frozen=True, slots=True)
class Difference:
    """A count against the books: quantity and money above zero were found, below zero are missing."""

    count: Count
    expected: int
    money: int

    @property
    def quantity(self) -> int:
        return self.count.counted - self.expected


def differences(counts: Sequence[Count]) -> list[Difference]:
    """What each count would post, valued as the writer values it."""
    return [Difference(count, expected(count.lot), _worth(count)) for count in counts]


def _worth(count: Count) -> int:
    held, money = expected(count.lot), getattr(getattr(count.lot, "balance", None), "money", 0)
    found = count.counted - held
    if found <= 0:
        return -cost_of_draw(held, money, -found)
    return divide_half_up(money * found, held) if held else gains.usual_cost(count.lot.material, found)
