"""How pours were made: the paint on each, the recipe versions it was mixed by, and the lots that it came from.

As corrected since. Quantities are thousandths of each material's base unit. The number of queries grows with the
generations of mixes alone.
"""

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field

from django.db.models import QuerySet

from inventory.ledger.models import Entry, EntryRole, Lot, Place
from inventory.ledger.movements import RecordedMovement, incoming, recorded_movements
from inventory.materials.models import Material
from inventory.recipes.models import Mix, RecipeVersion
from inventory.recipes.queries import versions_with_parts
from inventory.sessions.models import Pour, Session


@dataclass(frozen=True, slots=True)
class PouredThen:
    """Some pours as they were made. `paint` is by pour and material, `versions` and `lots` by material.

    Of several versions or lots of one material, the one that gave the most comes first. `mixed` is what went into the
    mixes of each version, by the version and the material.
    """

    pours: Sequence[Pour]
    paint: dict[int, dict[int, int]]
    materials: dict[int, Material]
    versions: dict[int, list[RecipeVersion]]
    lots: dict[int, list[Lot]]
    mixed: dict[int, dict[int, int]]

    @property
    def sessions(self) -> list[Session]:
        return list(dict.fromkeys(pour.session for pour in self.pours))


@dataclass(slots=True)
class _Trail:
    """What was drawn, followed from the pours back through their mixes."""

    drawn: dict[int, Counter[int]] = field(default_factory=lambda: defaultdict(Counter))
    lots: dict[int, Lot] = field(default_factory=dict)
    mixes: dict[int, Mix] = field(default_factory=dict)  # by the lot that was drawn
    materials: dict[int, Material] = field(default_factory=dict)
    parts: dict[int, Counter[int]] = field(default_factory=lambda: defaultdict(Counter))  # by mix

    def follow(self, movements: Iterable[RecordedMovement]) -> None:
        """Count what was drawn, and go on to the mixes that it came from."""
        frontier = list(movements)
        while frontier:
            for each in frontier:
                self.materials[each.material_id] = each.material
                if each.destination.mix is not None:
                    self.parts[each.destination.mix][each.material_id] += each.quantity
                if each.source_lot is not None:
                    self.lots[each.source_lot.pk] = each.source_lot
                    self.drawn[each.material_id][each.source_lot.pk] += each.quantity
            known = {mix.pk for mix in self.mixes.values()}
            self._find_mixes({each.source_lot.pk for each in frontier if each.source_lot is not None})
            new = {mix.pk for mix in self.mixes.values()} - known
            frontier = _as_corrected(Entry.objects.filter(mix__in=new, place=Place.MIX)) if new else []

    def _find_mixes(self, lots: Collection[int]) -> None:
        """The mixes that these lots came of, jars that were filled from them included."""
        for lot in Lot.objects.filter(pk__in=lots).select_related("mix", "decanted_from__mix"):
            mix = getattr(lot, "mix", None) or getattr(lot.decanted_from, "mix", None)
            if mix is not None:
                self.mixes[lot.pk] = mix

    @property
    def parts_by_version(self) -> dict[int, dict[int, int]]:
        """What went into the mixes of each version, by material."""
        versions = {mix.pk: mix.version_id for mix in self.mixes.values()}
        parts: dict[int, Counter[int]] = defaultdict(Counter)
        for mix, amounts in self.parts.items():
            parts[versions[mix]].update(amounts)
        return {pk: dict(amounts) for pk, amounts in parts.items()}

    @property
    def mixed(self) -> dict[int, Counter[int]]:
        """How much was drawn of what each version gave, by the material."""
        mixed: dict[int, Counter[int]] = defaultdict(Counter)
        for lot, mix in self.mixes.items():
            material = self.lots[lot].material_id
            mixed[material][mix.version_id] += self.drawn[material][lot]
        return mixed


def poured_then(pours: Sequence[Pour]) -> PouredThen:
    """Read how these pours were made. Select their sessions, surfaces and techniques along with them."""
    roles = [EntryRole.POURED, EntryRole.SURFACE]
    charged = Entry.objects.filter(pour__in=[pour.pk for pour in pours], place=Place.WORK, role__in=roles)
    movements = _as_corrected(charged)
    paint: dict[int, dict[int, int]] = {pour.pk: defaultdict(int) for pour in pours}
    for each in movements:
        if each.role == EntryRole.POURED and each.destination.pour is not None:
            paint[each.destination.pour][each.material_id] += each.quantity
    trail = _Trail()
    trail.follow(movements)
    mixed = trail.mixed
    versions = versions_with_parts().in_bulk({pk for counted in mixed.values() for pk in counted})
    return PouredThen(
        pours=pours,
        paint={pk: {of: amount for of, amount in taken.items() if amount > 0} for pk, taken in paint.items()},
        materials=trail.materials,
        versions={of: [versions[pk] for pk in _most_first(counted)] for of, counted in mixed.items()},
        mixed=trail.parts_by_version,
        lots={of: [trail.lots[pk] for pk in _most_first(counted)] for of, counted in trail.drawn.items()},
    )


def _as_corrected(entries: QuerySet[Entry]) -> list[RecordedMovement]:
    """What counts of some entries of destinations: what was reversed is left out, corrections are added."""
    in_force = incoming(entries).filter(posting__reverses=None, posting__reversed_by=None)
    return recorded_movements(in_force.exclude(quantity=0).order_by("posting_id", "line"))


def _most_first(counted: Counter[int]) -> list[int]:
    return [pk for pk, amount in counted.most_common() if amount > 0]
