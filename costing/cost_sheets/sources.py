"""Where a drawn quantity came from: its lot, and through a mixed lot what went into it, down to what was bought."""

from collections.abc import Iterable
from dataclasses import dataclass, field

from django.db.models import F

from inventory.ledger.models import Entry, Lot, Place
from inventory.ledger.movements import source_lot_of, with_source_lot
from inventory.materials.models import Material
from inventory.recipes.models import Mix
from studio.values.allocation import allocate, divide_half_up


@dataclass(frozen=True, slots=True)
class Source:
    """So much of one lot and what it cost. `through` tells a mixed lot's ingredients; their money sums to its own.

    Free material such as tap water has no lot. Quantities are thousandths of the material's base unit; those of
    ingredients are rounded one by one, for they have measures of their own.
    """

    material: Material
    lot: Lot | None
    quantity: int
    money: int
    through: tuple["Source", ...] = ()


@dataclass(slots=True)
class _Batch:
    """What went into a mix, and how much came out of it."""

    ingredients: list[Entry] = field(default_factory=list)
    made: int = 0


class Sources:
    """Lots read level by level, so that a cost sheet takes as many queries as mixes lie within mixes."""

    def __init__(self, lots: Iterable[int]) -> None:
        self._lots: dict[int, Lot] = {}
        self._batches: dict[int, _Batch] = {}  # by the lot that the mix became
        waiting = set(lots)
        while waiting:
            waiting = self._read(waiting) - self._lots.keys()

    def of(self, lot_id: int, quantity: int, money: int) -> Source:
        """Tell where a quantity drawn from a lot at a cost came from."""
        lot = self._lots[lot_id]
        return Source(lot.material, lot, quantity, money, self._through(lot, quantity, money))

    def _read(self, lots: set[int]) -> set[int]:
        """Read these lots and their mixes; return the lots behind them."""
        behind: set[int] = set()
        mixes: dict[int, int] = {}
        for lot in Lot.objects.filter(pk__in=lots).select_related("material", "mix"):
            self._lots[lot.pk] = lot
            if lot.decanted_from_id:
                behind.add(lot.decanted_from_id)
            if isinstance(mix := getattr(lot, "mix", None), Mix):
                mixes[mix.pk] = lot.pk
                self._batches[lot.pk] = _Batch()
        if not mixes:
            return behind
        entries = Entry.objects.filter(place=Place.MIX, mix__in=mixes, posting=F("mix__posting"))
        for entry in with_source_lot(entries).select_related("material").order_by("posting_id", "line"):
            batch = self._batches[mixes[entry.mix_id or 0]]
            if entry.quantity < 0:
                batch.made -= entry.quantity
                continue
            batch.ingredients.append(entry)
            if (source := source_lot_of(entry)) is not None:
                behind.add(source)
        return behind

    def _through(self, lot: Lot, quantity: int, money: int) -> tuple[Source, ...]:
        while lot.decanted_from_id:
            lot = self._lots[lot.decanted_from_id]
        batch = self._batches.get(lot.pk)
        if batch is None or not batch.ingredients or not batch.made:
            return ()
        weights = [entry.money for entry in batch.ingredients]
        if not any(weights):  # a mix of free things, to which a correction or an average gave cost since
            weights = [entry.quantity for entry in batch.ingredients]
        return tuple(
            self.of_entry(entry, divide_half_up(entry.quantity * quantity, batch.made), part)
            for entry, part in zip(batch.ingredients, allocate(money, weights), strict=True)
        )

    def of_entry(self, entry: Entry, quantity: int, money: int) -> Source:
        """The same for what an entry took: from its lot, or free material, which never stood in one."""
        lot = source_lot_of(entry)
        if lot is None:
            return Source(entry.material, None, quantity, money)
        return self.of(lot, quantity, money)
