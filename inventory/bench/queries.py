"""A plan as it is carried out at the bench: its cups with their parts, and its surfaces one by one.

Cups are rounded up to a tenth of a mL or g and pours down to one, so that no cup runs short; parts are rounded to what
the studio's scale and measuring cup can tell.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from typing import Any

from inventory.bench.calculations import TENTH, Step, cup_label, doses_for, steps_of, up_to_tenth
from inventory.errors import InventoryError, UnknownDensity
from inventory.ledger.models import Lot
from inventory.materials.models import Material
from inventory.plans.actions import refuse_poured
from inventory.plans.models import Plan
from inventory.plans.queries import answer_of
from inventory.recipes.actions.mixes import Ingredient, planned
from inventory.recipes.measuring import to_step
from inventory.recipes.models import RecipeVersion
from inventory.recipes.queries import Cup, cup_of, measured_out, plain_recipe
from inventory.sessions.models import Technique
from inventory.sessions.queries.planning import Answer, LineNeed
from studio.preferences.models import Studio
from studio.translation import _
from studio.values.allocation import allocate, divide_half_up
from studio.values.quantities import DENSITY_SCALE, mass_of, volume_of
from studio.values.units import Measure

MOST_POURS = 200


class Origin(StrEnum):
    """Where a part of a cup comes from."""

    SHELF = "shelf"
    JAR = "jar"  # mixed before, and kept


@dataclass(frozen=True, slots=True)
class BenchPart:
    """One thing that goes into a cup, as it can be measured out. None while a density is missing.

    `measured` (mL) and `weighed` (g) are rounded to what the studio's measuring cup and scale can tell, and
    `cup_shows` and `scale_shows` are their running totals.
    """

    material: Material
    measured: int | None
    cup_shows: int | None
    weighed: int | None
    scale_shows: int | None
    drops: int = 0
    origin: Origin = Origin.SHELF


@dataclass(frozen=True, slots=True)
class BenchCup:
    """One cup, or a jug for what is mixed first and goes into cups.

    `mixed` of its contents is mixed now by `version`, `ready` comes out of a jar or a bottle, both in thousandths of
    the material's base unit.
    """

    label: str
    material: Material
    version: RecipeVersion | None
    mixed: int
    ready: int
    parts: Sequence[BenchPart]
    is_jug: bool = False
    water_share: int = 0

    @property
    def total(self) -> int:
        return self.mixed + self.ready

    @property
    def ingredients(self) -> list[Ingredient]:
        """What the mix draws from the shelf, exactly."""
        if self.version is None or not self.mixed:
            return []
        return [item for item in planned(self.version, self.mixed) if item.quantity]


@dataclass(frozen=True, slots=True)
class BenchDose:
    """What a surface takes of a cup: as a volume, and in the measure of what is in the cup."""

    cup: int
    volume: int
    quantity: int


@dataclass(frozen=True, slots=True)
class BenchPour:
    """One surface: the `number`-th of `count` alike."""

    surface: Material
    technique: Technique
    arm: str
    number: int
    count: int
    doses: Sequence[BenchDose]

    @property
    def volume(self) -> int:
        return sum(dose.volume for dose in self.doses)


@dataclass(frozen=True, slots=True)
class BenchLine:
    """Surfaces that are poured alike."""

    pours: Sequence[BenchPour]

    @property
    def first(self) -> BenchPour:
        return self.pours[0]

    @property
    def count(self) -> int:
        return len(self.pours)


@dataclass(frozen=True, slots=True)
class Bench:
    """A plan's work in full."""

    plan: Plan
    cups: Sequence[BenchCup]
    lines: Sequence[BenchLine] = field(default_factory=list)
    lots: Mapping[int, Lot] = field(default_factory=dict)  # that the plan keeps to, by material

    @property
    def pours(self) -> list[BenchPour]:
        return [pour for line in self.lines for pour in line.pours]

    @property
    def steps(self) -> list[Step]:
        return steps_of([len(cup.parts) for cup in self.cups], len(self.pours))

    @property
    def work(self) -> dict[str, Any]:
        """What is sent back with the touches: rows by their numbers, cups counted from 1, thousandths."""
        cups = [
            {
                "material": cup.material.pk,
                "version": cup.version.pk if cup.version and cup.mixed else None,
                "parts": [
                    {"material": item.material.pk, "quantity": item.quantity, "lot": self._lot(item.material)}
                    for item in cup.ingredients
                ],
                "ready": cup.ready,
                "lot": self._lot(cup.material),
            }
            for cup in self.cups
        ]
        lines = [
            {
                "surface": line.first.surface.pk,
                "surface_lot": self._lot(line.first.surface),
                "technique": line.first.technique.pk,
                "arm": line.first.arm,
                "count": line.count,
                "doses": [{"cup": dose.cup + 1, "quantity": dose.quantity} for dose in line.first.doses],
            }
            for line in self.lines
        ]
        return {"cups": cups, "lines": lines}

    def _lot(self, material: Material) -> int | None:
        return self.lots[material.pk].pk if material.pk in self.lots else None

    @property
    def materials(self) -> list[Material]:
        """Everything that is handled, each once."""
        every = [
            material for cup in self.cups for material in (cup.material, *(p.material for p in cup.parts))
        ]
        return list({material.pk: material for material in every}.values())


def bench_of(plan: Plan, *, today: date) -> Bench:
    """What is done for a plan, by what its recipes and the shelf say now. Raises what its answer raises."""
    answer = answer_of(plan, today=today)
    cups = list(_cups(answer, Studio.current()))
    places = {cup.material.pk: place for place, cup in enumerate(cups) if not cup.is_jug}
    lines = [BenchLine(_pours(need, cups, places)) for need in answer.lines]
    return Bench(plan, cups, lines, {lot.material_id: lot for lot in plan.kept_lots})


def open_bench(plan: Plan, *, today: date) -> Bench:
    """The bench of a plan that still waits to be poured.

    Raises AlreadyPoured, InventoryError for more surfaces than can be shown, and what bench_of raises.
    """
    refuse_poured(plan)
    count = sum(line.count for line in plan.lines.all())
    if count > MOST_POURS:
        raise InventoryError(
            _(
                "This plan has {count} surfaces. A bench shows {most} at most: split the plan.",
                count=count,
                most=MOST_POURS,
            )
        )
    return bench_of(plan, today=today)


def _cups(answer: Answer, studio: Studio) -> Iterator[BenchCup]:
    """What is mixed first, then what is poured from."""
    straight = _straight(answer)
    poured = len(answer.cups) + len(straight)
    to_mix = [cup for cup in answer.mix_first if cup.to_mix]
    for number, cup in enumerate(to_mix):
        # Each cup that it goes into is rounded up by up to a tenth, and so are those that are mixed from it first.
        more = (poured + len(to_mix) - number) * TENTH
        yield _mixed_cup(cup, str(number + 1), (up_to_tenth(cup.to_mix + more), 0), studio, is_jug=True)
    for place, cup in enumerate(answer.cups):
        mixed = up_to_tenth(cup.to_mix) if cup.to_mix else 0
        yield _mixed_cup(cup, cup_label(place), (mixed, cup.from_stock), studio)
    for place, (material, volume) in enumerate(straight.items(), start=len(answer.cups)):
        yield _bottle(material, cup_label(place), up_to_tenth(volume), studio)


def _straight(answer: Answer) -> dict[Material, int]:
    """The volume of each colour that is poured unmixed."""
    mixed = {cup.material.pk for cup in answer.cups}
    volumes: dict[Material, int] = {}
    for need in answer.lines:
        parts = allocate(need.paint, [colour.share for colour in need.line.colours])
        for colour, volume in zip(need.line.colours, parts, strict=True):
            if colour.material.pk not in mixed:
                volumes[colour.material] = volumes.get(colour.material, 0) + volume
    return volumes


def _bottle(material: Material, label: str, volume: int, studio: Studio) -> BenchCup:
    """A cup of something poured unmixed."""
    mass = mass_of(volume, material.density) if material.density else None
    ready = volume if material.measure == Measure.VOLUME else mass or 0
    return BenchCup(label, material, None, 0, ready, _parts([(material, volume, mass, Origin.SHELF)], studio))


def _mixed_cup(
    cup: Cup, label: str, amounts: tuple[int, int], studio: Studio, *, is_jug: bool = False
) -> BenchCup:
    """A cup of so much to be mixed, and so much that a jar holds already, which is added last."""
    mixed, ready = amounts
    now = cup_of(cup.version, to_mix=mixed, from_stock=ready, studio=studio)
    exact = [(part.material, part.volume, part.mass, Origin.SHELF) for part in now.parts]
    if ready:
        density = plain_recipe(cup.version).density or cup.material.density
        exact.append((cup.material, *_both(ready, cup.material, density), Origin.JAR))
    return BenchCup(
        label, cup.material, cup.version, mixed, ready, _parts(exact, studio), is_jug, now.water_share
    )


Exact = tuple[Material, int | None, int | None, Origin]  # what, how many thousandths of a mL and of a g


def _parts(exact: Sequence[Exact], studio: Studio) -> list[BenchPart]:
    """What goes into one cup, rounded as it is measured out."""
    in_cup = measured_out([volume for _material, volume, _mass, _origin in exact], studio.measuring_step)
    on_scale = measured_out([mass for _material, _volume, mass, _origin in exact], studio.scale_step)
    parts = []
    for (material, volume, mass, origin), cup, scale in zip(exact, in_cup, on_scale, strict=True):
        measured = cup.amount if cup else _alone(volume, studio.measuring_step)
        weighed = scale.amount if scale else _alone(mass, studio.scale_step)
        drops = 0 if measured or weighed or not volume else divide_half_up(volume, studio.drop_size)
        parts.append(
            BenchPart(
                material,
                measured,
                cup.shows if cup else None,
                weighed,
                scale.shows if scale else None,
                drops,
                origin,
            )
        )
    return parts


def _alone(amount: int | None, step: int) -> int | None:
    """An amount by itself, where the running totals are not known."""
    return None if amount is None else to_step(amount, step) or amount


def _both(quantity: int, material: Material, density: int | None) -> tuple[int | None, int | None]:
    """A quantity of a material as a volume and as a mass, where its density is known."""
    if material.measure == Measure.MASS:
        return (volume_of(quantity, density) if density else None), quantity
    return quantity, (mass_of(quantity, density) if density else None)


def _pours(need: LineNeed, cups: Sequence[BenchCup], places: dict[int, int]) -> list[BenchPour]:
    """The surfaces of a line. Extra paint stays in the cups."""
    line, each = need.line, need.poured_each
    shares = [colour.share for colour in line.colours]
    # What a plan says is poured on each is poured to the thousandth.
    volumes = doses_for(each, shares) if line.poured is None else allocate(each, shares)
    doses = [
        BenchDose(places[colour.material.pk], volume, _quantity(colour.material, volume))
        for colour, volume in zip(line.colours, volumes, strict=True)
        if volume
    ]
    return [
        BenchPour(line.surface, line.technique, line.arm, number, line.count, doses)
        for number in range(1, line.count + 1)
    ]


def _quantity(material: Material, volume: int) -> int:
    """A volume in the material's own measure, rounded down so that no cup runs short."""
    if material.measure == Measure.VOLUME:
        return volume
    if material.density is None:
        raise UnknownDensity(material.pk, material)
    return volume * material.density // DENSITY_SCALE
