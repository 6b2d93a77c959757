"""Writers for ratios: kept, changed, and applied to paints and media as recipes that nobody wrote.

Parts and drops are thousandths, shares of the cup millionths.
"""

from collections import Counter
from collections.abc import Container, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import chain, count
from typing import Any

from inventory.ledger.posting import open_ledger
from inventory.materials.models import POURED_KINDS, Kind, Material, MeasureChoice
from inventory.recipes.actions.recipes import MIXABLE, Parts, add_recipe
from inventory.recipes.calculations import Basis
from inventory.recipes.models import PARTS, Ratio, RatioPart, RatioRole, Recipe, RecipeVersion
from inventory.recipes.queries import latest_versions
from inventory.recipes.ratio_parts import (
    LARGEST_PART,
    Measured,
    RatioUnit,
    Role,
    RolePart,
    notation,
    parts_of,
)
from studio.auditing.edit_conflicts import lock_row, refuse_stale
from studio.auditing.recording import record_change
from studio.auditing.reference_rows import set_columns
from studio.auditing.writing import create_all
from studio.errors import InputError, refuse_all
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.submission import Submission, transaction
from studio.translation import _, speaking
from studio.values.allocation import MILLION

LONGEST_NAME = 120
MOST_MIXED = 100  # own choice: so many recipes of one ratio at once


@dataclass(frozen=True, slots=True)
class RatioPartFacts:
    """So much of one role; `material` where it is the same whatever is chosen. Raises InputError naming the field."""

    role: str
    amount: int
    unit: str = RatioUnit.PARTS
    material: Material | None = None

    def __post_init__(self) -> None:
        problems = []
        if self.role not in RatioRole.values:
            problems.append(InputError(_("Choose paint, medium, water or additive."), field="role"))
        elif self.unit != RatioUnit.PARTS and self.role != Role.ADDITIVE:
            only = _("Only an additive can be given in % or in drops. Enter parts, such as 2 or ½.")
            problems.append(InputError(only, field="amount"))
        most = MILLION - 1 if self.unit == RatioUnit.PERCENT else LARGEST_PART
        if not 0 < self.amount <= most:
            problems.append(
                InputError(_("Enter an amount above zero, or leave the row out."), field="amount")
            )
        if self.material is not None and self.material.measure not in MIXABLE:
            cannot = _("{name} cannot be mixed: it is not measured by volume or weight.", name=self.material)
            problems.append(InputError(cannot, field="material"))
        refuse_all(problems)

    @property
    def plain(self) -> RolePart:
        return RolePart(Role(self.role), self.amount, RatioUnit(self.unit))


@dataclass(frozen=True, slots=True)
class RatioFacts:
    """Parts by role. Of each role one part at most is left to be chosen, of paint always one. Raises InputError."""

    parts: Sequence[RatioPartFacts]
    basis: str = Basis.VOLUME
    name: str = ""
    notes: str = ""
    is_archived: bool = False
    is_favourite: bool = False

    def __post_init__(self) -> None:
        problems = []
        if not self.is_open(Role.PAINT):
            problems.append(InputError(_("Add a part of paint that is chosen when you mix."), field="parts"))
        for role, times in Counter(part.role for part in self.parts if part.material is None).items():
            if times > 1:
                twice = _(
                    "Two parts of {role} are left to be chosen. Add them together, or name the material of one.",
                    role=RatioRole(role).label,
                )
                problems.append(InputError(twice, field="parts"))
        refuse_all(problems)

    def is_open(self, role: Role) -> bool:
        """Whether the material of a role is chosen when the ratio is applied."""
        return any(part.role == role and part.material is None for part in self.parts)

    def written(self, *, decimal_comma: bool = False) -> str:
        """The ratio in numbers: "1 : 2 : ½"."""
        return notation([part.plain for part in self.parts], decimal_comma=decimal_comma)


def facts_of(ratio: Ratio) -> RatioFacts:
    """A ratio as it is kept. Reads its parts and their materials (prefetch them for lists)."""
    parts = [RatioPartFacts(part.role, part.amount, part.unit, part.material) for part in ratio.parts.all()]
    names = ("basis", "name", "notes", "is_archived", "is_favourite")
    return RatioFacts(parts, **{name: getattr(ratio, name) for name in names})


def save_ratio(
    *, facts: RatioFacts, submission: Submission, ratio: Ratio | None = None, seen: int | None = None
) -> Ratio:
    """Keep a ratio, or change one; what was mixed by it stays. Raises InputError, EditConflict."""
    name = facts.name.strip()
    with transaction(submission):
        if ratio is not None:
            lock_row(ratio)
            refuse_stale(ratio, seen=seen)
        now = Ratio() if ratio is None else Ratio.objects.get(pk=ratio.pk)
        if not 0 < len(name) <= LONGEST_NAME:
            raise InputError(
                _("Give the ratio a name of up to {most} letters.", most=LONGEST_NAME), field="name"
            )
        if Ratio.objects.filter(name=name).exclude(pk=now.pk).exists():
            raise InputError(_("Another ratio has this name. Choose a different one."), field="name")
        before = _as_recorded(now) if ratio is not None else None
        now.name, now.basis, now.notes = name, facts.basis, facts.notes
        now.is_archived, now.is_favourite = facts.is_archived, facts.is_favourite
        now.save()
        now.parts.all().delete()
        create_all(
            RatioPart(
                ratio=now,
                line=line,
                role=part.role,
                amount=part.amount,
                unit=part.unit,
                material=part.material,
            )
            for line, part in enumerate(facts.parts, start=1)
        )
        after = _as_recorded(now)
        if before is not None and before["parts"] != after["parts"]:
            record_change(now, field=PARTS, old=before, new=after)
        return now


def _as_recorded(ratio: Ratio) -> dict[str, Any]:
    parts = ratio.parts.select_related("material").order_by("line")
    return {
        "basis": str(ratio.basis),
        "parts": [
            [part.role, part.amount, part.unit, part.material.name if part.material else ""] for part in parts
        ],
    }


@dataclass(frozen=True, slots=True)
class RatioUse:
    """A ratio applied to paints and media. Raises InputError naming paints, media or additive."""

    ratio: RatioFacts
    paints: Sequence[Material]
    media: Sequence[Material] = ()
    additive: Material | None = None
    water: Material | None = None

    def __post_init__(self) -> None:
        refuse_all(self._problems())

    def _problems(self) -> Iterator[InputError]:
        if not self.paints:
            yield InputError(_("Choose at least one paint."), field="paints")
        if self.ratio.is_open(Role.MEDIUM) and not self.media:
            yield InputError(_("Choose at least one medium."), field="media")
        if self.media and not self.ratio.is_open(Role.MEDIUM):
            yield InputError(_("This ratio has no medium to choose."), field="media")
        if self.ratio.is_open(Role.ADDITIVE) and self.additive is None:
            yield InputError(_("This ratio has an additive. Choose which."), field="additive")
        for field in ("paints", "media"):
            chosen = getattr(self, field)
            if any(material.measure not in MIXABLE for material in chosen):
                yield InputError(_("Choose only what is measured by volume or by weight."), field=field)
            if len({material.pk for material in chosen}) < len(chosen):
                yield InputError(_("Choose each of them only once."), field=field)
        if len(self.paints) * max(len(self.media), 1) > MOST_MIXED:
            advice = _("That is more than {most} mixes. Apply the ratio to fewer at once.", most=MOST_MIXED)
            yield InputError(advice, field="paints")


@dataclass(frozen=True, slots=True)
class MixedByRatio:
    """What a ratio comes to for one paint and one medium."""

    paint: Material
    medium: Material | None
    recipe: Recipe


def mix_by_ratio(*, use: RatioUse, submission: Submission) -> list[MixedByRatio]:
    """The recipe of each paint with each medium, medium by medium: one that is equal already, or else a new one.

    The same ratio, paint and medium always come to the same recipe, as long as the studio's drops keep their size.
    Raises InputError, and what writing a recipe raises.
    """
    # Whoever writes recipes holds this lock: two people at once make no recipe twice.
    with open_ledger(submission):
        water, drop = _water(use), Studio.current().drop_size
        known, names = by_signature(latest_versions().values()), names_taken()
        mixed = []
        media: Sequence[Material | None] = use.media or [None]
        for medium in media:
            for paint in use.paints:
                chosen = {
                    Role.PAINT: paint,
                    Role.MEDIUM: medium,
                    Role.WATER: water,
                    Role.ADDITIVE: use.additive,
                }
                parts = _parts_for(use.ratio, chosen, drop)
                signature = signature_of(use.ratio.basis, [(material.pk, part) for material, part in parts])
                if signature not in known:
                    recipe = _recipe_for(use.ratio, chosen, parts, names)
                    names.add(recipe.name)
                    known[signature] = add_recipe(recipe, parts, use.ratio.basis, submission=submission)
                mixed.append(MixedByRatio(paint, medium, known[signature]))
        return mixed


def set_favourite(recipe: Recipe, is_favourite: bool, *, submission: Submission) -> Recipe:
    """Offer a recipe first, or no longer."""
    return set_columns(recipe, submission=submission, is_favourite=is_favourite)


def keep_among_written(recipe: Recipe, *, submission: Submission) -> Recipe:
    """List a recipe that came of a ratio among those that were written: it is made again."""
    return set_columns(recipe, submission=submission, by_ratio=False)


def _water(use: RatioUse) -> Material | None:
    """The water that was chosen, or the studio's own: what is free and all water."""
    if use.water is not None or not use.ratio.is_open(Role.WATER):
        return use.water
    own = Material.objects.filter(is_free=True, is_archived=False, measure__in=MIXABLE, water_share=MILLION)
    water = own.order_by("pk").first()
    if water is None:
        advice = _("Add water as a free material first, with 100% as its share of water.")
        raise InputError(advice, field="water")
    return water


def _parts_for(ratio: RatioFacts, chosen: Mapping[Role, Material | None], drop: int) -> Parts:
    """The recipe's parts in the order of the ratio, those of one material together. Raises InputError, MixingError."""
    materials = [part.material or chosen[Role(part.role)] for part in ratio.parts]
    measured = [
        Measured(material.pk, part.amount, RatioUnit(part.unit), material.density)
        for part, material in zip(ratio.parts, materials, strict=True)
        if material is not None
    ]
    together: dict[Material, int] = {}
    for material, part in zip(materials, parts_of(measured, Basis(ratio.basis), drop=drop), strict=True):
        if material is not None:
            together[material] = together.get(material, 0) + part
    return list(together.items())


Signature = tuple[str, frozenset[tuple[int, Fraction]]]


def signature_of(basis: str, parts: Sequence[tuple[int, int]]) -> Signature:
    """What makes two recipes equal: 2 and 1 parts are 4 and 2 parts, in whichever order."""
    whole = sum(part for _material, part in parts)
    return str(Basis(basis)), frozenset((material, Fraction(part, whole)) for material, part in parts)


def by_signature(versions: Iterable[RecipeVersion]) -> dict[Signature, Recipe]:
    """Recipes of something that is poured, by what they are; one that was written before one that a ratio made."""
    usable = [
        version
        for version in versions
        if version.parts.all()
        and not version.recipe.is_archived
        and version.recipe.makes.kind in POURED_KINDS
    ]
    usable.sort(key=lambda version: (version.recipe.by_ratio, version.recipe_id), reverse=True)
    return {
        signature_of(
            version.basis, [(part.material_id, part.parts) for part in version.parts.all()]
        ): version.recipe
        for version in usable
    }


def _recipe_for(
    ratio: RatioFacts, chosen: Mapping[Role, Material | None], parts: Parts, taken: Container[str]
) -> Recipe:
    """A new recipe and the material that it makes, neither saved yet, under a name that is free."""
    name = _free_name(ratio, chosen, taken)
    # How long a bottle keeps once opened says nothing of a mix; how long home-made medium keeps does.
    keeps = [
        material.keeps_days
        for material, _part in parts
        if material.keeps_days and hasattr(material, "recipe")
    ]
    paint = chosen[Role.PAINT]
    is_weighed = ratio.basis == Basis.MASS and any(material.density is None for material, _part in parts)
    makes = Material(
        name=name,
        kind=Kind.MIX,
        measure=MeasureChoice.MASS if is_weighed else MeasureChoice.VOLUME,
        colour=paint.colour if paint else "",
        keeps_days=min(keeps, default=None),
    )
    return Recipe(name=name, makes=makes, by_ratio=True)


def names_taken() -> set[str]:
    """What materials and recipes are called."""
    return {*Material.objects.values_list("name", flat=True), *Recipe.objects.values_list("name", flat=True)}


def _free_name(ratio: RatioFacts, chosen: Mapping[Role, Material | None], taken: Container[str]) -> str:
    """“Tide Blue + Loft medium, 1 : 2 : ½”, shortened and numbered where it must be."""
    named = [
        material.name
        for role, material in chosen.items()
        if material is not None and role is not Role.WATER and ratio.is_open(role)
    ]
    studio = Studio.current()
    with speaking(studio.language):  # whoever mixes: the name is the studio's
        numbers = ratio.written(decimal_comma=Formatter.of(studio).decimal_comma)
        if ratio.basis == Basis.MASS:
            numbers = _("{numbers} by weight", numbers=numbers)
    ending = f", {numbers}"
    wanted = " + ".join(named)[: LONGEST_NAME - len(ending) - 6].rstrip() + ending
    numbered = chain([wanted], (f"{wanted} ({number})" for number in count(2)))
    return next(name for name in numbered if name not in taken)
