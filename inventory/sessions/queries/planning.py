"""Do I have enough for this set? What to mix first, what goes in each cup, what runs short and what to buy.

Quantities are thousandths of the base unit, money millionths, rates microlitres per cm², reserve millionths.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from fractions import Fraction

from inventory.errors import InventoryError, UnknownDensity
from inventory.materials.models import Material
from inventory.materials.queries import Buy
from inventory.recipes import calculations as mixing
from inventory.recipes.models import RecipeVersion
from inventory.recipes.queries import Cup, cup_of
from inventory.sessions import calculations as coverage
from inventory.sessions.actions.sessions import area_of, size_of
from inventory.sessions.models import Technique
from inventory.sessions.most_pours import AtMost, PourLine, how_often, together
from inventory.sessions.paint_per_area import Estimate, Learned, edge_of
from inventory.sessions.queries.needs import Bench, Need, cost_now
from inventory.sessions.queries.paint_per_area import learned_by_technique
from inventory.stock.availability import StockFigures
from studio.preferences.models import Studio
from studio.translation import _, ngettext
from studio.values.allocation import MILLION, THOUSANDTHS, allocate, divide_half_up
from studio.values.quantities import mass_of
from studio.values.units import Measure


@dataclass(frozen=True, slots=True)
class Colour:
    """One colour of a pour, and its share on any scale."""

    material: Material
    share: int


@dataclass(frozen=True, slots=True)
class SetLine:
    """So many of one surface, poured by one technique in these colours. `arm`: what differs in a comparison.

    `poured` is what goes on each (thousandths of a mL); without it, what the technique usually takes.
    """

    surface: Material
    count: int
    technique: Technique
    colours: Sequence[Colour]
    arm: str = ""
    poured: int | None = None


@dataclass(frozen=True, slots=True)
class SetPlan:
    """A set to be poured. `versions` are mixed whatever version is in force, by the material that each makes."""

    lines: Sequence[SetLine]
    reserve: int = 0
    include_expired: bool = False
    versions: Mapping[int, RecipeVersion] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class LineNeed:
    """One line of the set: the paint it takes, by which rate, and how many could be poured if it stood alone.

    `exact` is the same need without any rounding, by which everything is judged that says whether there is enough.
    """

    line: SetLine
    area: int
    rate: Estimate
    paint_each: int
    paint: int
    most: int | None
    exact: PourLine

    @property
    def source(self) -> str:
        """Where the rate comes from."""
        if self.line.poured is not None:
            return _("set in the plan")
        if not self.rate.pours:
            return self.line.technique.source
        return ngettext(
            "learned from {n} pour of yours",
            "learned from {n} pours of yours",
            self.rate.pours,
            n=self.rate.pours,
        )

    @property
    def poured_each(self) -> int:
        """What goes on each surface, extra paint left out."""
        return self._on(1, self.rate.value)

    @property
    def least_paint(self) -> int:
        """What the whole line takes at the low end of the range, extra paint left out."""
        return self._on(self.line.count, self.rate.low)

    @property
    def most_paint(self) -> int:
        """The same at the high end."""
        return self._on(self.line.count, self.rate.high)

    def _on(self, count: int, rate: int) -> int:
        if self.line.poured is not None:
            return self.line.poured * count
        return coverage.paint_needed(self.area * count, rate)


@dataclass(frozen=True, slots=True)
class Answer:
    """What a set comes to. `most_sets` is None when nothing limits it; `cost` leaves out what has no known cost.

    `made` is what is mixed on the way. `at_most` says how many of the set's own pours there is enough for. What to
    `buy` is filled in from the shopping list by whoever shows it.
    """

    lines: tuple[LineNeed, ...]
    needs: tuple[Need, ...]
    made: tuple[Need, ...]
    is_enough_without_extra: bool
    mix_first: tuple[Cup, ...]
    cups: tuple[Cup, ...]
    most_sets: int | None
    at_most: AtMost
    cost: int
    cost_unknown: tuple[Material, ...]
    buy: tuple[Buy, ...] = ()
    nobody_sells: tuple[Material, ...] = ()

    @property
    def is_enough(self) -> bool:
        return not any(need.short for need in self.needs)

    @property
    def asked(self) -> int:
        """How many pours the set is."""
        return sum(need.line.count for need in self.lines)

    @property
    def choices(self) -> list["Choice"]:
        """What there is enough for of each line, for a set that there is not enough for."""
        ways = (
            self.at_most.most.counts,
            self.at_most.in_proportion,
            self.at_most.filled,
            self.at_most.in_order,
        )
        return [Choice(*each) for each in zip(self.lines, *ways, strict=True)]


@dataclass(frozen=True, slots=True)
class Choice:
    """How many of one line there is enough for, by each of the ways of AtMost."""

    need: LineNeed
    most: int
    in_proportion: int
    filled: int
    in_order: int


def plan_set(plan: SetPlan, *, on: date, figures: Mapping[int, StockFigures] | None = None) -> Answer:
    """Answer for a whole set, in the same few queries whatever its size. Posts nothing.

    Leftovers and home-made medium already mixed are used first; lots past their day are left out unless the plan
    takes them. `figures` are what other plans leave and orders bring by the day; without them, all that is usable
    then is there to be taken. Raises InventoryError for a plan that makes no sense or a material without a density,
    RecipeCycleError.
    """
    _refuse_nonsense(plan)
    bench = Bench.read(
        named_in(plan), on, figures=figures, include_expired=plan.include_expired, fixed=plan.versions
    )
    learned = learned_by_technique({line.technique for line in plan.lines})
    # First of all, so that recipes that go round in a circle are named.
    mixing.expand({material.pk: 0 for material in named_in(plan)}, bench.recipes, names=bench.names)
    try:
        lines = [_line_need(line, plan.reserve, learned, bench) for line in plan.lines]
        wanted = Counter[int]()
        for need in lines:
            wanted.update(_wanted(need.line, need.paint))
        expansion = mixing.expand(wanted, bench.recipes, bench.usable)
        exact = [need.exact for need in lines]
        whole = together(exact, [line.count for line in exact])
        excess, most_sets = bench.shelf.excess(whole), how_often(whole, bench.shelf)
        at_most = AtMost.of(exact, bench.shelf)
        studio = Studio.current()
        cups = {pk: _cup(pk, expansion, bench, studio) for pk in _to_mix(wanted, expansion)}
    except mixing.DensityNeededError as missing:
        raise UnknownDensity(missing.material, bench.materials[missing.material]) from missing
    needs = [bench.need(pk, quantity, excess.get(pk)) for pk, quantity in expansion.bought.items()]
    cost, cost_unknown = cost_now(expansion, bench.materials)
    return Answer(
        lines=tuple(lines),
        needs=tuple(sorted(needs, key=lambda need: (-need.short, need.material.name))),
        made=tuple(bench.made(pk, expansion) for pk in {**expansion.from_stock, **expansion.to_mix}),
        is_enough_without_extra=not excess or bench.shelf.covers(_without_extra(lines, plan.reserve)),
        mix_first=tuple(cup for pk, cup in cups.items() if pk not in wanted),
        cups=tuple(cups[pk] for pk in wanted if pk in cups),
        most_sets=most_sets,
        at_most=at_most,
        cost=cost,
        cost_unknown=cost_unknown,
    )


def exact_lines(plans: Sequence[SetPlan]) -> list[list[PourLine]]:
    """What the lines of each plan take, by one query for all. Nothing where a density is missing by now."""
    learned = learned_by_technique({line.technique for plan in plans for line in plan.lines})

    def lines_of(plan: SetPlan) -> list[PourLine]:
        try:
            return [_exact_line(line, plan.reserve, _rate_of(line, learned)) for line in plan.lines]
        except mixing.DensityNeededError:
            return []

    return [lines_of(plan) for plan in plans]


def named_in(plan: SetPlan) -> list[Material]:
    """The colours of a plan and its surfaces."""
    return [
        material
        for line in plan.lines
        for material in (line.surface, *(colour.material for colour in line.colours))
    ]


def _line_need(line: SetLine, reserve: int, learned: Mapping[int, Learned], bench: Bench) -> LineNeed:
    area, rate = area_of(line.surface), _rate_of(line, learned)
    paint = _paint_of(line, area, rate.value, reserve)
    each = divide_half_up(paint.numerator, paint.denominator)
    exact = _exact_line(line, reserve, rate)
    return LineNeed(line, area, rate, each, each * line.count, how_often(exact.each, bench.shelf), exact)


def _rate_of(line: SetLine, learned: Mapping[int, Learned]) -> Estimate:
    if line.poured is not None:
        rate = coverage.paint_rate(line.poured, area_of(line.surface))
        return Estimate(rate, rate, rate, 0)
    return learned[line.technique.pk].estimate(edge_of(size_of(line.surface)), line.count)


def _paint_of(line: SetLine, area: int, rate: int, reserve: int) -> Fraction:
    """The paint for one surface, extra paint included: as it is set for the line, or else by the rate."""
    if line.poured is not None:
        return Fraction(line.poured * (MILLION + reserve), MILLION)
    return coverage.exact_paint(area, rate, reserve)


def _exact_line(line: SetLine, reserve: int, rate: Estimate) -> PourLine:
    area = area_of(line.surface)
    return PourLine(line.count, area, _exactly(line, _paint_of(line, area, rate.value, reserve)))


def _exactly(line: SetLine, paint: Fraction) -> dict[int, Fraction]:
    """What one pour of a line takes, as `_wanted` says for all of them, without any rounding."""
    wanted = {line.surface.pk: Fraction(THOUSANDTHS)}
    paint /= sum(colour.share for colour in line.colours)
    for colour in line.colours:
        material, amount = colour.material, paint * colour.share
        if material.measure == Measure.MASS:
            amount *= Fraction(_density_of(material), MILLION)
        wanted[material.pk] = wanted.get(material.pk, Fraction(0)) + amount
    return wanted


def _without_extra(lines: Sequence[LineNeed], reserve: int) -> dict[int, Fraction]:
    """What a whole set takes with nothing on top of what is poured."""
    bare = [
        replace(
            need.exact,
            each={
                pk: quantity if pk == need.line.surface.pk else quantity * MILLION / (MILLION + reserve)
                for pk, quantity in need.exact.each.items()
            },
        )
        for need in lines
    ]
    return together(bare, [need.line.count for need in lines])


def _wanted(line: SetLine, paint: int) -> dict[int, int]:
    """What a line takes: its colours, each in its own measure, and its surfaces."""
    wanted = {line.surface.pk: line.count * THOUSANDTHS}
    parts = allocate(paint, [colour.share for colour in line.colours])
    for colour, volume in zip(line.colours, parts, strict=True):
        material = colour.material
        amount = volume
        if material.measure == Measure.MASS:
            amount = mass_of(volume, _density_of(material))
        wanted[material.pk] = wanted.get(material.pk, 0) + amount
    return wanted


def _density_of(material: Material) -> int:
    if material.density is None:
        raise mixing.DensityNeededError(material.pk)
    return material.density


def _to_mix(wanted: Mapping[int, int], expansion: mixing.Expansion) -> list[int]:
    """Everything to mix or take from a jar, ingredients before what they go into."""
    made = dict.fromkeys([*reversed(expansion.to_mix), *expansion.from_stock])
    return [pk for pk in made if pk in wanted or pk in expansion.to_mix]


def _cup(pk: int, expansion: mixing.Expansion, bench: Bench, studio: Studio) -> Cup:
    return cup_of(
        bench.versions[pk],
        to_mix=expansion.to_mix.get(pk, 0),
        from_stock=expansion.from_stock.get(pk, 0),
        studio=studio,
    )


def _refuse_nonsense(plan: SetPlan) -> None:
    if not plan.lines:
        raise InventoryError(_("Add at least one surface to the set."))
    if plan.reserve < 0:
        raise InventoryError(_("Extra paint cannot be negative. Enter 0 or more."))
    for number, line in enumerate(plan.lines, start=1):
        if line.count <= 0:
            raise InventoryError(_("Line {number}: enter how many, one or more.", number=number))
        if line.poured is not None and line.poured <= 0:
            raise InventoryError(
                _("Line {number}: the amount poured on each must be above zero.", number=number)
            )
        if not line.colours or any(colour.share <= 0 for colour in line.colours):
            raise InventoryError(
                _("Line {number}: it needs at least one colour, each with a share above zero.", number=number)
            )
        for colour in line.colours:
            if colour.material.measure not in (Measure.VOLUME, Measure.MASS):
                raise InventoryError(
                    _(
                        "Line {number}: {name} cannot be poured. Choose a paint, a medium or a mix.",
                        number=number,
                        name=colour.material,
                    )
                )
