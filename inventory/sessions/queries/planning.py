"""Do I have enough for this set? What to mix first, what goes in each cup, what runs short and what to buy.

Quantities are thousandths of the base unit, money millionths, rates microlitres per cm², reserve millionths.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from math import ceil

from inventory.errors import InventoryError
from inventory.materials.models import Material
from inventory.materials.queries import Buy, best_buy, supplies_of
from inventory.purchasing.incoming import on_order
from inventory.recipes import calculations as mixing
from inventory.recipes.models import RecipeVersion
from inventory.recipes.queries import Cup, cup_of, latest_versions, plain_recipe
from inventory.sessions import calculations as coverage
from inventory.sessions.actions.sessions import area_of, size_of
from inventory.sessions.models import Technique
from inventory.sessions.most_pours import AtMost, PourLine, Shelf, how_often, together
from inventory.sessions.paint_per_area import Estimate, Learned, edge_of
from inventory.sessions.queries.paint_per_area import learned_by_technique
from inventory.stock.queries import UnitCost, unit_costs, usable_and_expired
from studio.preferences.models import Studio
from studio.translation import _, ngettext
from studio.values.allocation import allocate
from studio.values.quantities import mass_of
from studio.values.units import Measure

PIECE = 1000
MILLION = 1_000_000


@dataclass(frozen=True, slots=True)
class Colour:
    """One colour of a pour, and its share on any scale."""

    material: Material
    share: int


@dataclass(frozen=True, slots=True)
class SetLine:
    """So many of one surface, poured by one technique in these colours."""

    surface: Material
    count: int
    technique: Technique
    colours: Sequence[Colour]


@dataclass(frozen=True, slots=True)
class SetPlan:
    """A set to be poured. `scale_step` is what the scale can tell apart (0.1 g = 100)."""

    lines: Sequence[SetLine]
    reserve: int = 0
    include_expired: bool = False
    scale_step: int = 100


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
        if not self.rate.pours:
            return self.line.technique.source
        return ngettext(
            "learned from {n} pour of yours",
            "learned from {n} pours of yours",
            self.rate.pours,
            n=self.rate.pours,
        )

    @property
    def least_paint(self) -> int:
        """What the whole line takes at the low end of the range, extra paint left out."""
        return coverage.paint_needed(self.area * self.line.count, self.rate.low)

    @property
    def most_paint(self) -> int:
        """The same at the high end."""
        return coverage.paint_needed(self.area * self.line.count, self.rate.high)


@dataclass(frozen=True, slots=True)
class Need:
    """One bought material of the set. `held` is None for what never runs out; `expired` was left out of it.

    `short` is nothing while the exact need exceeds what is held by no more than the rounding of cups can.
    """

    material: Material
    needed: int
    held: int | None
    on_order: int
    expired: int
    short: int


@dataclass(frozen=True, slots=True)
class Answer:
    """What a set comes to. `most_sets` is None when nothing limits it; `cost` leaves out what has no known cost.

    `at_most` says how many of the set's own pours there is enough for.
    """

    lines: tuple[LineNeed, ...]
    needs: tuple[Need, ...]
    mix_first: tuple[Cup, ...]
    cups: tuple[Cup, ...]
    most_sets: int | None
    at_most: AtMost
    buy: tuple[Buy, ...]
    nobody_sells: tuple[Material, ...]
    cost: int
    cost_unknown: tuple[Material, ...]

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


def plan_set(plan: SetPlan, *, on: date) -> Answer:
    """Answer for a whole set, in the same few queries whatever its size. Posts nothing.

    Leftovers and home-made medium already mixed are used first; lots past their day are left out unless the plan
    takes them. Raises InventoryError for a plan that makes no sense or a material without a density, RecipeCycleError.
    """
    _refuse_nonsense(plan)
    bench = _Bench.read(plan, on)
    learned = learned_by_technique({line.technique for line in plan.lines})
    # First of all, so that recipes that go round in a circle are named.
    mixing.expand(dict.fromkeys(bench.poured, 0), bench.recipes, names=bench.names)
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
        cups = {pk: _cup(pk, expansion, bench, plan) for pk in _to_mix(wanted, expansion)}
    except mixing.DensityNeededError as missing:
        name = bench.materials[missing.material].name
        raise InventoryError(
            _(
                "{name} has no density. Weigh a measured sample of it and enter the density in g/mL.",
                name=name,
            )
        ) from missing
    needs = [bench.need(pk, quantity, excess.get(pk)) for pk, quantity in expansion.bought.items()]
    buy, nobody_sells = _purchases(needs)
    cost, cost_unknown = _cost(expansion, bench.materials)
    return Answer(
        lines=tuple(lines),
        needs=tuple(sorted(needs, key=lambda need: (-need.short, need.material.name))),
        mix_first=tuple(cup for pk, cup in cups.items() if pk not in wanted),
        cups=tuple(cups[pk] for pk in wanted if pk in cups),
        most_sets=most_sets,
        at_most=at_most,
        buy=buy,
        nobody_sells=nobody_sells,
        cost=cost,
        cost_unknown=cost_unknown,
    )


@dataclass(frozen=True, slots=True)
class _Bench:
    """What the studio has and knows, read once for a plan."""

    poured: tuple[int, ...]
    materials: dict[int, Material]
    versions: dict[int, RecipeVersion]
    recipes: dict[int, mixing.Recipe]
    usable: dict[int, int]
    expired: dict[int, int]
    coming: dict[int, int]
    shelf: Shelf

    @classmethod
    def read(cls, plan: SetPlan, on: date) -> "_Bench":
        versions = latest_versions()
        parts = [part.material for version in versions.values() for part in version.parts.all()]
        made = [version.recipe.makes for version in versions.values()]
        named = [colour.material for line in plan.lines for colour in line.colours]
        surfaces = [line.surface for line in plan.lines]
        usable, expired = usable_and_expired(on)
        if plan.include_expired:
            usable, expired = usable + expired, Counter()
        materials = {material.pk: material for material in (*parts, *made, *named, *surfaces)}
        recipes = {pk: plain_recipe(version) for pk, version in versions.items()}
        free: dict[int, int | None] = {pk: None for pk, material in materials.items() if material.is_free}
        return cls(
            poured=tuple(material.pk for material in named),
            materials=materials,
            versions=versions,
            recipes=recipes,
            usable=usable,
            expired=expired,
            coming=on_order(),
            shelf=Shelf({**usable, **free}, recipes),
        )

    @property
    def names(self) -> dict[int, str]:
        return {pk: material.name for pk, material in self.materials.items()}

    def need(self, pk: int, quantity: int, excess: Fraction | None) -> Need:
        material = self.materials[pk]
        held = None if material.is_free else self.usable.get(pk, 0)
        short = max(ceil(excess), quantity - (held or 0)) if excess else 0
        return Need(material, quantity, held, self.coming.get(pk, 0), self.expired.get(pk, 0), short)


def _line_need(line: SetLine, reserve: int, learned: Mapping[int, Learned], bench: _Bench) -> LineNeed:
    area = area_of(line.surface)
    rate = learned[line.technique.pk].estimate(edge_of(size_of(line.surface)), line.count)
    each = coverage.paint_needed(area, rate.value, reserve)
    exact = PourLine(line.count, area, _exactly(line, area, rate.value, reserve))
    return LineNeed(line, area, rate, each, each * line.count, how_often(exact.each, bench.shelf), exact)


def _exactly(line: SetLine, area: int, rate: int, reserve: int) -> dict[int, Fraction]:
    """What one pour of a line takes, as `_wanted` says for all of them, without any rounding."""
    wanted = {line.surface.pk: Fraction(PIECE)}
    paint = coverage.exact_paint(area, rate, reserve) / sum(colour.share for colour in line.colours)
    for colour in line.colours:
        material, amount = colour.material, paint * colour.share
        if material.measure == Measure.MASS:
            amount *= Fraction(_density_of(material), MILLION)
        wanted[material.pk] = wanted.get(material.pk, Fraction(0)) + amount
    return wanted


def _wanted(line: SetLine, paint: int) -> dict[int, int]:
    """What a line takes: its colours, each in its own measure, and its surfaces."""
    wanted = {line.surface.pk: line.count * PIECE}
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


def _cup(pk: int, expansion: mixing.Expansion, bench: _Bench, plan: SetPlan) -> Cup:
    return cup_of(
        bench.versions[pk],
        to_mix=expansion.to_mix.get(pk, 0),
        from_stock=expansion.from_stock.get(pk, 0),
        scale_step=plan.scale_step,
    )


def _purchases(needs: Sequence[Need]) -> tuple[tuple[Buy, ...], tuple[Material, ...]]:
    """Packs for what is short and not on its way already, and the materials that nobody is listed as selling."""
    missing = {need.material.pk: need.short - need.on_order for need in needs if need.short > need.on_order}
    if not missing:
        return (), ()
    supplies, currency = supplies_of(missing), Studio.current().currency
    offers = {pk: best_buy(quantity, supplies[pk], currency) for pk, quantity in missing.items()}
    unsold = tuple(
        need.material for need in needs if need.material.pk in offers and not offers[need.material.pk]
    )
    return tuple(offer for offer in offers.values() if offer is not None), unsold


def _cost(expansion: mixing.Expansion, materials: Mapping[int, Material]) -> tuple[int, tuple[Material, ...]]:
    """What the set costs in materials at present unit costs, and what could not be counted."""
    taken = {**expansion.bought, **expansion.from_stock}
    costs: Mapping[int, UnitCost] = unit_costs(materials[pk] for pk in taken)
    known = sum(costs[pk].of(quantity) for pk, quantity in taken.items() if pk in costs)
    return known, tuple(materials[pk] for pk in taken if pk not in costs)


def _refuse_nonsense(plan: SetPlan) -> None:
    if not plan.lines:
        raise InventoryError(_("Add at least one surface to the set."))
    if plan.reserve < 0 or plan.scale_step <= 0:
        raise InventoryError(
            _("Extra paint cannot be negative, and the scale's precision must be above zero.")
        )
    for number, line in enumerate(plan.lines, start=1):
        if line.count <= 0:
            raise InventoryError(_("Line {number}: enter how many, one or more.", number=number))
        if not line.colours or any(colour.share <= 0 for colour in line.colours):
            raise InventoryError(
                _("Line {number}: it needs at least one colour, each with a share above zero.", number=number)
            )
        for colour in line.colours:
            if colour.material.measure not in (Measure.VOLUME, Measure.MASS):
                raise InventoryError(
                    _("Line {number}: {name} cannot be poured.", number=number, name=colour.material)
                )
