"""A cup that is being filled: how to go on after each reading, and whether the shelf suffices for the rest of its set.

Quantities are thousandths of each material's own base unit, readings thousandths of a g or a mL.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from inventory.materials.models import Material
from inventory.recipes.actions.mixes import Ingredient, planned, water_in
from inventory.recipes.filling import Filling
from inventory.recipes.measuring import Correction, Limits, Reading, running_readings
from inventory.recipes.models import RecipeVersion
from inventory.recipes.queries import Cup, cup_of
from inventory.sessions.most_pours import Shelf, together
from inventory.sessions.queries.needs import NO_VERSIONS, Bench
from inventory.sessions.queries.planning import SetPlan, exact_lines, named_in
from inventory.stock.availability import StockFigures
from studio.preferences.models import Studio
from studio.values.units import Measure


@dataclass(frozen=True, slots=True)
class Shortage:
    """So much more of a material is needed than there is."""

    material: Material
    quantity: int


@dataclass(frozen=True, slots=True)
class SetShelf:
    """The shelf, and what a set takes of it in all, the cup in question included as planned."""

    shelf: Shelf
    taken: Mapping[int, Fraction]
    materials: Mapping[int, Material]

    @classmethod
    def of(
        cls,
        parts: Sequence[Ingredient],
        *,
        on: date,
        plan: SetPlan | None = None,
        figures: Mapping[int, StockFigures] | None = None,
    ) -> "SetShelf":
        """For a cup of a plan, or for one that stands alone. The same few queries however large the plan."""
        named = [item.material for item in parts]
        named += named_in(plan) if plan else []
        include_expired = plan.include_expired if plan else False
        fixed = plan.versions if plan else NO_VERSIONS
        bench = Bench.read(named, on, figures=figures, include_expired=include_expired, fixed=fixed)
        taken = {item.material.pk: Fraction(item.quantity) for item in parts}
        if plan is not None:
            (lines,) = exact_lines([plan])
            taken = together(lines, [line.count for line in lines])
        return cls(bench.shelf, taken, bench.materials)

    def short_of(self, filling: Filling, correction: Correction) -> list[Shortage]:
        """What the set runs short of when a cup takes what a correction uses instead of what was planned."""
        wanted = dict(self.taken)
        for part, used in zip(filling.parts, filling.used(correction), strict=True):
            more = max(used.quantity - part.quantity, 0)
            wanted[used.material.pk] = wanted.get(used.material.pk, Fraction(0)) + more
        return [
            Shortage(self.materials[pk], -(-excess.numerator // excess.denominator))
            for pk, excess in self.shelf.excess(wanted).items()
        ]

    def limits(self, filling: Filling, room: int | None) -> Limits:
        """What is left of each part beyond what is in the cup. Of a mix more can be made, so it never limits."""
        bought = self.shelf.bought(self.taken)
        left: list[int | None] = []
        for part, in_cup in zip(filling.parts, filling.in_cup, strict=True):
            pk = part.material.pk
            held = self.shelf.held.get(pk, 0)
            if held is None or pk in self.shelf.recipes:
                left.append(None)
                continue
            free = held - bought.get(pk, Fraction(0)) + part.quantity
            left.append(max(_on_instrument(filling, part, int(free)) - in_cup, 0))
        return Limits(left, room)


def _on_instrument(filling: Filling, part: Ingredient, quantity: int) -> int:
    if quantity <= 0:
        return 0
    return filling.instrument.amounts([Ingredient(part.material, quantity)])[0]


@dataclass(frozen=True, slots=True)
class Added:
    """So much of a material that goes in, and what is shown then; in the instrument's measure."""

    material: Material
    amount: int
    shows: int
    measure: Measure


@dataclass(frozen=True, slots=True)
class Way:
    """One way to go on, what is then in the cup (`water` of it in millionths), and what the set would be short of."""

    measure: Measure
    correction: Correction
    contents: Sequence[Ingredient]
    water: int
    short: Sequence[Shortage]

    @property
    def total(self) -> int:
        return sum(self.correction.contents)

    @property
    def kept(self) -> int:
        """What is shown once enough has been poured off."""
        return self.correction.kept

    @property
    def added(self) -> list[Added]:
        pairs = zip(self.contents, self.correction.added, strict=True)
        return [
            Added(part.material, reading.amount, reading.shows, self.measure)
            for part, reading in pairs
            if reading.amount
        ]


@dataclass(frozen=True, slots=True)
class CupFilled:
    """A cup as planned, and once something was shown how to go on: `next`, or one of `ways` where that does not fit.

    The first of `ways` adds what there is, the second pours off and stays in proportion. `short` says what a set would
    lack with the whole correction.
    """

    cup: Cup
    filling: Filling
    readings: Sequence[Reading]
    next: Way | None
    ways: Sequence[Way]


@dataclass(frozen=True, slots=True)
class FilledFacts:
    """A cup of so much of a version, what its instrument showed after each part, empty, and how much it holds."""

    version: RecipeVersion
    wanted: int
    shows: Sequence[int | None] = ()
    empty: int = 0
    room: int | None = None


def fill_cup(
    facts: FilledFacts,
    *,
    on: date,
    studio: Studio,
    plan: SetPlan | None = None,
    figures: Mapping[int, StockFigures] | None = None,
) -> CupFilled:
    """How to go on with a cup, of a plan or by itself. Raises InventoryError, InputError for readings that fall."""
    cup = cup_of(facts.version, to_mix=facts.wanted, from_stock=0, studio=studio)
    parts = planned(facts.version, facts.wanted)
    shows = list(facts.shows) or [None] * len(parts)
    filling = Filling.shown(parts, shows, studio=studio, empty=facts.empty)
    readings = running_readings(filling.planned, filling.instrument.step, empty=facts.empty)
    if not any(shown is not None for shown in shows):
        return CupFilled(cup, filling, readings, None, [])
    shelf = SetShelf.of(parts, on=on, plan=plan, figures=figures)
    ways = filling.ways_within(shelf.limits(filling, facts.room))
    return CupFilled(
        cup,
        filling,
        readings,
        _way(filling, filling.next, shelf),
        [_way(filling, correction, shelf) for correction in ways],
    )


def _way(filling: Filling, correction: Correction, shelf: SetShelf) -> Way:
    contents = filling.contents(correction)
    water = water_in([item for item in contents if item.quantity])
    return Way(filling.instrument.measure, correction, contents, water, shelf.short_of(filling, correction))
