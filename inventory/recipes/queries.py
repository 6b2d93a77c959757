"""Recipes as they stand: their versions, what goes into each cup, and what 100 mL cost to mix."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.db.models import F, Max, Prefetch, QuerySet, Sum
from django.db.models.functions import Lower

from inventory.ledger.models import Entry, Lot, LotBalance
from inventory.materials.models import Kind, Material, MeasureChoice
from inventory.recipes import calculations as mixing
from inventory.recipes.colours import mixed_colour
from inventory.recipes.measuring import Reading, running_readings
from inventory.recipes.models import Mix, Recipe, RecipePart, RecipeVersion
from inventory.stock.draw_costs import DrawCosts, draw_costs
from studio.errors import InputError
from studio.preferences.formatting import decimal_comma
from studio.preferences.models import Studio
from studio.translation import _
from studio.values.allocation import divide_half_up
from studio.values.quantities import input_text, mass_of
from studio.values.units import Measure

HUNDRED_MILLILITRES = 100_000


@dataclass(frozen=True, slots=True)
class CupPart:
    """One part of a cup, exact and as it can be measured out. None while a density is missing.

    `volume` and `mass` are exact, thousandths of a mL and of a g. `measured` (mL) and `weighed` (g) are rounded to what
    the studio's measuring cup and scale can tell, and `cup_shows` and `scale_shows` are their running totals.
    """

    material: Material
    volume: int | None
    mass: int | None
    measured: int | None
    cup_shows: int | None
    weighed: int | None
    scale_shows: int | None
    drop_size: int

    @property
    def drops(self) -> int:
        """About how many drops it is, where that is too little to be measured in any other way; else 0."""
        if self.volume is None or self.measured or self.weighed:
            return 0
        return divide_half_up(self.volume, self.drop_size)


@dataclass(frozen=True, slots=True)
class Cup:
    """One mix: so much to mix and so much already there, in thousandths of the made material's base unit.

    `water_share` (millionths) counts the water inside home-made medium; `water_limit` is the studio's. `typed` is what
    is to be mixed as the studio types it.
    """

    version: RecipeVersion
    to_mix: int
    from_stock: int
    parts: tuple[CupPart, ...]
    water_share: int
    water_limit: int
    typed: str

    @property
    def material(self) -> Material:
        return self.version.recipe.makes

    @property
    def materials(self) -> list[Material]:
        return [part.material for part in self.parts]

    @property
    def total(self) -> int:
        return self.to_mix + self.from_stock

    @property
    def mixed(self) -> int:
        """What is mixed as it can be measured out: what its rounded parts come to."""
        if not self.parts:
            return self.to_mix
        last = self.parts[-1]
        shows = last.cup_shows if self.material.measure == MeasureChoice.VOLUME else last.scale_shows
        return self.to_mix if shows is None else shows

    @property
    def ready_and_mixed(self) -> int:
        return self.from_stock + self.mixed

    @property
    def is_too_watery(self) -> bool:
        return self.water_share > self.water_limit

    @property
    def unweighed(self) -> list[Material]:
        """The parts whose density is missing, so that the cup cannot be both weighed and measured."""
        return [part.material for part in self.parts if part.volume is None or part.mass is None]


def cup_of(version: RecipeVersion, *, to_mix: int, from_stock: int, studio: Studio) -> Cup:
    """What goes into one cup, and what one scale or measuring cup, never reset, shows after each part.

    Raises DensityNeededError, MixingError.
    """
    amounts = amounts_of(version, to_mix) if to_mix else []
    measured = measured_out([amount.volume for _material, amount in amounts], studio.measuring_step)
    weighed = measured_out([amount.mass for _material, amount in amounts], studio.scale_step)
    parts = tuple(
        CupPart(
            material,
            amount.volume,
            amount.mass,
            measured=in_cup.amount if in_cup else None,
            cup_shows=in_cup.shows if in_cup else None,
            weighed=on_scale.amount if on_scale else None,
            scale_shows=on_scale.shows if on_scale else None,
            drop_size=studio.drop_size,
        )
        for (material, amount), in_cup, on_scale in zip(amounts, measured, weighed, strict=True)
    )
    return Cup(
        version,
        to_mix,
        from_stock,
        parts,
        plain_recipe(version).water_share,
        studio.water_limit,
        typed=input_text(
            to_mix, Measure(version.recipe.makes.measure), decimal_comma=decimal_comma(studio.locale)
        ),
    )


def measured_out(amounts: Sequence[int | None], step: int, *, empty: int = 0) -> Sequence[Reading | None]:
    """The running readings of a cup; none of them once an amount is not known, as those after it have no total."""
    known = [amount for amount in amounts if amount is not None]
    if len(known) < len(amounts):
        return [None] * len(amounts)
    return running_readings(known, step, empty=empty)


def amounts_of(version: RecipeVersion, quantity: int) -> list[tuple[Material, mixing.Amount]]:
    """A quantity of a recipe split over its parts, in the order written. Raises DensityNeededError, MixingError."""
    recipe = plain_recipe(version)
    total = mixing.total_in_basis(quantity, recipe.measure, recipe.parts, recipe.basis)
    amounts = mixing.amounts_for(total, recipe.parts, recipe.basis)
    return [(part.material, amount) for part, amount in zip(version.parts.all(), amounts, strict=True)]


def plain_recipe(version: RecipeVersion) -> mixing.Recipe:
    """A version for the pure calculations. Reads parts and their materials (prefetch them for lists)."""
    return mixing.Recipe(
        parts=tuple(plain_part(part.material, part.parts) for part in version.parts.all()),
        basis=mixing.Basis(version.basis),
        measure=Measure(version.recipe.makes.measure),
    )


def plain_part(material: Material, parts: int) -> mixing.Part:
    """So many thousandths of a part of a material, for the pure calculations."""
    return mixing.Part(material.pk, parts, material.density, Measure(material.measure), material.water_share)


def guessed_colour(parts: Iterable[tuple[Material, int]]) -> str:
    """A rough colour by those of the paints among the parts, as `mixed_colour` says; the rest dries clear."""
    return mixed_colour(
        [(material.colour, amount) for material, amount in parts if material.kind in (Kind.PAINT, Kind.MIX)]
    )


def estimates_in(mix: Mix) -> list[tuple[Material, str]]:
    """What went into a mix by eye and still counts as typed: each material, and what was typed."""
    if not mix.estimates:
        return []
    drawn = Entry.objects.filter(mix=mix, quantity__gt=0).order_by().values_list("material")
    amounts = dict(drawn.annotate(drawn=Sum("quantity")))
    materials = Material.objects.filter(pk__in=mix.estimates).order_by("name")
    pairs = [(material, mix.estimate_of(material.pk, amounts.get(material.pk, 0))) for material in materials]
    return [(material, typed) for material, typed in pairs if typed]


def versions_with_parts() -> QuerySet[RecipeVersion]:
    """Versions with what they make, their parts and the parts' materials, newest first: two queries."""
    parts = RecipePart.objects.select_related("material")
    versions = RecipeVersion.objects.select_related("recipe__makes").order_by("-number")
    return versions.prefetch_related(Prefetch("parts", parts))


def version_of(recipe: Recipe, number: int | None) -> RecipeVersion:
    """The version of that number, or the newest, with its parts. Raises InputError where there is none."""
    versions = versions_with_parts().filter(recipe=recipe)
    version = (versions if number is None else versions.filter(number=number)).first()
    if version is None:
        raise InputError(_("This recipe has no such version."), field="version")
    return version


def lots_by_version(versions: Iterable[RecipeVersion]) -> dict[int, set[int]]:
    """The lots mixed by each of these versions, jars that were filled from them included: one query."""
    materials = {version.pk: version.recipe.makes_id for version in versions}
    rows = Lot.objects.filter(material__in=set(materials.values())).order_by("pk")
    mixed: dict[int, int | None] = {}
    for lot, source, version in rows.values_list("pk", "decanted_from", "mix__version"):
        mixed[lot] = mixed.get(source) if source else version
    return {pk: {lot for lot, version in mixed.items() if version == pk} for pk in materials}


def latest_version(recipe: Recipe) -> RecipeVersion | None:
    return versions_with_parts().filter(recipe=recipe).first()


def latest_versions() -> dict[int, RecipeVersion]:
    """The latest version of every recipe, by the material it makes; recipes by name."""
    newest = versions_with_parts().annotate(newest=Max("recipe__versions__number")).filter(number=F("newest"))
    return {version.recipe.makes_id: version for version in newest.order_by(Lower("recipe__name"))}


def held() -> dict[int, int]:
    """What the shelf holds of every material, in thousandths of its base unit."""
    rows = LotBalance.objects.order_by().values_list("lot__material_id").annotate(total=Sum("quantity"))
    return dict(rows)


def cost_per_100ml(version: RecipeVersion) -> int | None:
    """What 100 mL of a version costs to mix now, in millionths, as costs_per_100ml says."""
    return costs_per_100ml([version])[version.pk]


def costs_per_100ml(wanted: Sequence[RecipeVersion]) -> dict[int, int | None]:
    """What 100 mL of each version costs to mix now, in millionths, by the version's number.

    A home-made part costs what the shelf holds of it cost, or else what its own recipe would. None while a cost or a
    density that this needs is not known. The same few queries however many versions.
    """
    latest = latest_versions()
    known = [*latest.values(), *wanted]
    costs = draw_costs({part.material for version in known for part in version.parts.all()})
    return {version.pk: _cost_per_100ml(version, latest, costs) for version in wanted}


def _cost_per_100ml(
    version: RecipeVersion, latest: Mapping[int, RecipeVersion], costs: DrawCosts
) -> int | None:
    made = version.recipe.makes
    versions = {**latest, made.pk: version}
    to_expand = {pk: plain_recipe(each) for pk, each in versions.items() if pk == made.pk or pk not in costs}
    wanted = HUNDRED_MILLILITRES
    if made.measure != MeasureChoice.VOLUME:
        if made.density is None:
            return None
        wanted = mass_of(wanted, made.density)
    try:
        needed = mixing.expand({made.pk: wanted}, to_expand).bought
    except mixing.MixingError:
        # A density is missing, or an old version would need today's recipes in a circle.
        return None
    if not all(material in costs for material in needed):
        return None
    return sum(costs.of(material, quantity) for material, quantity in needed.items())
