"""What has changed since pours were made, then and now: what she may choose, and what can no longer be had.

Quantities are thousandths of the base unit. The same few queries, however many pours there are.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from math import dist

from inventory.errors import InventoryError
from inventory.ledger.models import Lot
from inventory.materials.models import Kind, Material
from inventory.plans.queries import StandIn, figures_for, stand_ins
from inventory.plans.repeating.poured_then import PouredThen
from inventory.recipes.calculations import MixingError, Recipe
from inventory.recipes.models import Basis, RecipeVersion
from inventory.recipes.queries import latest_versions, plain_recipe
from inventory.sessions.actions.sessions import area_of
from inventory.sessions.models import Technique
from inventory.sessions.queries.planning import Answer, SetPlan, plan_set
from inventory.stock.availability import NOTHING, StockFigures
from inventory.stock.queries import HeldLot, held_lots
from studio.auditing.queries import values_before
from studio.errors import MeniscusError
from studio.preferences.formatting import Formatter
from studio.translation import _
from studio.values.numbers import format_scaled
from studio.values.units import Measure

THEN, NOW = "then", "now"
AMOUNTS = "amounts"


# Paints that lie farther apart are other colours; so many that are nearer are named. Own choice, both.
FARTHEST, MOST_NEAR = 90, 2
COLOURED = (Kind.PAINT, Kind.MIX)
# A part may be a fiftieth off, or a millilitre (or gram), before the mix counts as another one. Own choice.
MEASURED_TO = 1000


class ChangeKind(StrEnum):
    """What a change is about."""

    RECIPE = "recipe"
    LOT = "lot"
    MATERIAL = "material"
    SURFACE = "surface"
    TECHNIQUE = "technique"
    AMOUNT = "amount"
    DENSITY = "density"


@dataclass(frozen=True, slots=True)
class Option:
    """One thing to choose: as it was, as it is now, or the number of a material that takes its place."""

    value: str
    label: str


@dataclass(frozen=True, slots=True)
class Change:
    """Something that is not as it was. Without options there is nothing to choose; the first one is the default.

    `is_gone`: it cannot be had as it was.
    """

    name: str
    kind: ChangeKind
    subject: str
    then: str
    now: str
    options: Sequence[Option] = ()
    is_gone: bool = False

    @property
    def is_minor(self) -> bool:
        """A bottle that is empty, where there is another one."""
        return self.kind == ChangeKind.LOT and not self.options


def as_then_or_now() -> list[Option]:
    return [Option(THEN, _("As it was then")), Option(NOW, _("As it is now"))]


def field_of(kind: str, material: int) -> str:
    """The name under which something is chosen."""
    return f"{kind}-{material}"


@dataclass(frozen=True)
class Now:
    """What there is now, beside what there was: read once."""

    then: PouredThen
    formatter: Formatter
    today: date
    in_force: Mapping[int, RecipeVersion]
    held: Mapping[int, HeldLot]

    @classmethod
    def read(cls, then: PouredThen, formatter: Formatter, today: date) -> "Now":
        materials = {material for material, lots in then.lots.items() if lots}
        held = held_lots(materials=materials) if materials else []
        return cls(then, formatter, today, latest_versions(), {lot.lot: lot for lot in held})

    def lot_of(self, material: int) -> Lot | None:
        """The lot to be taken again: of those that still hold something and are not past their day, the first."""
        return next((lot for lot in self.then.lots.get(material, ()) if self._is_usable(lot)), None)

    def expired_lot_of(self, material: int) -> Lot | None:
        """The first that still holds something, though it is past its day by now."""
        return next((lot for lot in self.then.lots.get(material, ()) if lot.pk in self.held), None)

    def _is_usable(self, lot: Lot) -> bool:
        return lot.pk in self.held and self.held[lot.pk].is_usable_on(self.today)

    # What changed, one kind after the other

    def recipes(self) -> Iterable[Change]:
        for material, versions in self.then.versions.items():
            used, now = versions[0], self.in_force.get(material)
            if now is None or now.pk == used.pk:
                continue
            yield Change(
                field_of("version", material),
                ChangeKind.RECIPE,
                used.recipe.name,
                version_in_words(used),
                version_in_words(now),
                as_then_or_now(),
            )

    def departures(self) -> Iterable[Change]:
        """Mixes that were not as their recipe says: what went in, beside what the recipe would have."""
        for material, versions in self.then.versions.items():
            version = versions[0]
            mixed = self.then.mixed.get(version.pk, {})
            if departs(mixed, plain_recipe(version)):
                went_in = ", ".join(
                    f"{self.formatter.short_quantity(amount, self.then.materials[pk].measure)} "
                    f"{self.then.materials[pk]}"
                    for pk, amount in mixed.items()
                    if amount
                )
                yield Change(
                    field_of("mixed", material),
                    ChangeKind.RECIPE,
                    _("{recipe}, as it was mixed", recipe=version.recipe),
                    went_in,
                    _(
                        "{version}. To repeat the mix, write it as a version",
                        version=version_in_words(version),
                    ),
                )

    def lots(self) -> Iterable[Change]:
        """Bought lots that are gone; what was mixed is mixed again."""
        for material, lots in self.then.lots.items():
            if material in self.then.versions or not lots or self.lot_of(material) is not None:
                continue
            name, expired = self.then.materials[material].name, self.expired_lot_of(material)
            others = ", ".join(
                f"L{lot.lot:04d}"
                for lot in self.held.values()
                if lot.material == material and lot.is_usable_on(self.today)
            )
            if expired is None and not others:
                continue  # then nothing is left of it
            if expired is None:
                gone = _("empty; {instead}", instead=others)
                yield Change(field_of("lot", material), ChangeKind.LOT, name, lots[0].label, gone)
                continue
            use_by = self.formatter.day(self.held[expired.pk].use_by)
            words = _("expired on {day}; {instead}", day=use_by, instead=others or _("no other lot"))
            options = list(reversed(as_then_or_now()))
            yield Change(field_of("lot", material), ChangeKind.LOT, name, expired.label, words, options)

    def surfaces(self) -> Iterable[Change]:
        seen = set()
        for pour in self.then.pours:
            surface = pour.surface
            try:
                area = area_of(surface)
            except InventoryError:
                continue
            if area != pour.area and surface.pk not in seen:
                seen.add(surface.pk)
                then, now = (self.formatter.quantity(each, Measure.AREA) for each in (pour.area, area))
                yield Change(
                    field_of("area", surface.pk), ChangeKind.SURFACE, _("Area of {surface}", surface=surface),
                    then, now,
                )  # fmt: skip

    def densities(self) -> Iterable[Change]:
        """Of what was bought: by volume all stays the same, in grams it does not."""
        bought = [pk for pk in self.then.materials if pk not in self.then.versions]
        before = values_before(Material, bought, "density", self._recorded_at)
        for pk, old in before.items():
            material = self.then.materials[pk]
            if str(old) == str(material.density):
                continue
            yield Change(
                field_of("density", pk),
                ChangeKind.DENSITY,
                _("Density of {material}", material=material),
                self._density(old),
                self._density(material.density),
            )

    def techniques(self) -> Iterable[Change]:
        used = {pour.technique_id: pour.technique for pour in self.then.pours}
        before = values_before(Technique, used, "coverage", self._recorded_at)
        for pk, old in before.items():
            technique = used[pk]
            if str(old) != str(technique.coverage):
                then, now = (f"{self._paint(int(each))}/cm²" for each in (old, technique.coverage))
                subject = _("Usual paint of {technique}", technique=technique)
                yield Change(field_of("technique", pk), ChangeKind.TECHNIQUE, subject, then, now)

    @property
    def _recorded_at(self) -> datetime:
        """When the last of the sessions was logged: what was changed before that was known then."""
        return max(session.posting.recorded_at for session in self.then.sessions)

    def _density(self, density: object) -> str:
        known = density not in (None, "", "None")
        return self.formatter.density(int(str(density))) if known else _("not known")

    def _paint(self, amount: int) -> str:
        return self.formatter.quantity(amount, Measure.VOLUME)

    # What can no longer be had

    def missing(self, plan: SetPlan, answer: Answer, poured: Collection[int]) -> Iterable[Change]:
        """Materials of which nothing is left, each with what could take its place; for what is poured, to choose."""
        figures = figures_for(plan, on=self.today, today=self.today)
        gone = {need.material.pk for need in answer.needs if need.short and not need.held and not need.due}
        others = nearest([*stand_ins(answer, figures), *self._near_colours(answer, gone, figures)], answer)
        for need in answer.needs:
            if need.material.pk in gone:
                yield self._gone(need.material, others.get(need.material.pk, ()), poured)
        for cup in (*answer.mix_first, *answer.cups):
            lacks = any(part.material.pk in gone for part in cup.parts)
            if lacks and cup.material.pk in others and cup.material.pk in poured:
                yield self._gone(cup.material, others[cup.material.pk], poured)

    def _near_colours(
        self, answer: Answer, gone: Collection[int], figures: Mapping[int, StockFigures]
    ) -> Iterable[StandIn]:
        """For paint that is gone, what is nearest to its colour. One query."""
        paints = [
            need.material
            for need in answer.needs
            if need.material.pk in gone and need.material.kind in COLOURED and need.material.colour
        ]
        if not paints:
            return
        kinds = {paint.kind for paint in paints}
        others = [
            other
            for other in Material.objects.filter(is_archived=False, kind__in=kinds).exclude(colour="")
            if figures.get(other.pk, NOTHING).available > 0
        ]
        for paint in paints:
            alike = [other for other in others if (other.kind, other.measure) == (paint.kind, paint.measure)]
            near = [
                (far, other)
                for other in alike
                if 0 < (far := colours_apart(paint.colour, other.colour)) <= FARTHEST
            ]
            for _far, other in sorted(near, key=lambda each: (each[0], each[1].name))[:MOST_NEAR]:
                yield StandIn(paint, other, figures[other.pk].available)

    def _gone(self, material: Material, others: Sequence[StandIn], poured: Collection[int]) -> Change:
        now = _("none in stock, and archived") if material.is_archived else _("none in stock")
        if material.pk in self.then.versions:
            now = _("cannot be mixed: an ingredient is gone")
        named = [
            Option(str(each.material.pk), f"{each.material} ({self._available(each)})") for each in others
        ]
        can_choose = bool(named) and (material.pk in poured or material.kind == Kind.SURFACE)
        if named and not can_choose:
            now = _("{state}; nearest: {other}", state=now, other=named[0].label)
        keep = Option(THEN, _("Keep it; it has to be ordered first"))
        return Change(
            field_of("material", material.pk),
            ChangeKind.MATERIAL,
            material.name,
            _("in stock"),
            now,
            [keep, *named] if can_choose else (),
            is_gone=True,
        )

    def _available(self, other: StandIn) -> str:
        return self.formatter.short_quantity(other.available, other.material.measure)

    def archived(self, gone: Collection[str]) -> Iterable[Change]:
        """What was archived since, though some of it is left."""
        for pk, material in self.then.materials.items():
            if material.is_archived and field_of("material", pk) not in gone:
                words = _("archived; what is left can be used")
                yield Change(field_of("archived", pk), ChangeKind.MATERIAL, material.name, _("in use"), words)


def departs(mixed: Mapping[int, int], recipe: Recipe) -> bool:
    """Whether what went in (thousandths, by material) is not in the proportions of a recipe, beyond measuring."""
    try:
        parts = recipe.ingredients
    except MixingError:
        return False
    if not any(mixed.values()):
        return False
    scale = sum(mixed.values()) / sum(parts.values())
    return any(
        abs(mixed.get(pk, 0) - parts.get(pk, 0) * scale) > max(MEASURED_TO, parts.get(pk, 0) * scale / 50)
        for pk in {*mixed, *parts}
    )


def colours_apart(one: str, other: str) -> float:
    """How far two colours (#1f5f6b) lie apart in red, green and blue of 0 to 255 each."""
    ends = ([int(text[place : place + 2], 16) for place in (1, 3, 5)] for text in (one, other))
    return dist(*ends)


def nearest(others: Sequence[StandIn], answer: Answer) -> dict[int, list[StandIn]]:
    """What could stand in, by what it would replace: of what is equally near, what is enough comes first."""
    needed = {need.material.pk: need.needed for need in answer.needs}
    needed |= {cup.material.pk: cup.total for cup in answer.cups}
    by_material: dict[int, list[StandIn]] = {}
    for each in others:
        by_material.setdefault(each.instead_of.pk, []).append(each)
    for pk, standing in by_material.items():
        wanted = needed.get(pk, 0)
        standing.sort(key=lambda each: each.available < wanted)
    return by_material


def version_in_words(version: RecipeVersion) -> str:
    """A version and its parts: "version 2: 2 Tide Blue, 1 Medium (by volume)"."""
    parts = ", ".join(f"{format_scaled(part.parts, 3)} {part.material.name}" for part in version.parts.all())
    basis = str(Basis(version.basis).label).lower()
    return _("{version}: {parts} ({basis})", version=version, parts=parts, basis=basis)


def try_out(plan: SetPlan, *, on: date, figures: Mapping[int, StockFigures]) -> tuple[Answer | None, str]:
    """The answer to a plan; or in words what keeps it from having one."""
    try:
        return plan_set(plan, on=on, figures=figures), ""
    except MeniscusError as problem:
        return None, str(problem)
