"""The writer for recipes, and readers of the recipes as they stand.

Parts are thousandths of a part. A version that has been used in a mix never changes: a change is a new version.
"""

from collections.abc import Mapping, Sequence
from datetime import date
from fractions import Fraction
from typing import Any

from django.db import transaction
from django.db.models import F, Max, Prefetch

from inventory.errors import InventoryError
from inventory.ledger.posting import open_ledger
from inventory.materials.actions import save_material
from inventory.materials.models import Material, MeasureChoice
from inventory.recipes import calculations as mixing
from inventory.recipes.actions.mixes import plain_parts
from inventory.recipes.models import PARTS, Recipe, RecipePart, RecipeVersion
from inventory.stock.queries import UnitCost, unit_costs
from studio.auditing.edit_conflicts import refuse_stale
from studio.auditing.recording import record_change
from studio.submission import Submission
from studio.translation import _, noop
from studio.values.allocation import divide_half_up
from studio.values.quantities import mass_of
from studio.values.units import Measure

HUNDRED_MILLILITRES = 100_000
MIXABLE = (MeasureChoice.VOLUME, MeasureChoice.MASS)
# What is not, inside a sentence.
UNMIXABLE: dict[str, str] = {
    MeasureChoice.COUNT: noop("count (each)"),
    MeasureChoice.AREA: noop("area (cm²)"),
    MeasureChoice.LENGTH: noop("length (cm)"),
}

Parts = Sequence[tuple[Material, int]]


def write_recipe(
    *, name: str, makes: Material, basis: str, parts: Parts, submission: Submission, notes: str = ""
) -> Recipe:
    """Write a recipe and its first version, and the material it makes if that is new.

    Raises InventoryError for parts that cannot be mixed, InputError for a new material that cannot be, and
    RecipeCycleError naming the circle when the recipe would need itself.
    """
    # Whoever mixes holds this lock, and so does whoever writes a recipe: no version is used while it is replaced, and
    # two recipes written at once cannot close a circle.
    with open_ledger(submission):
        made = save_material(makes, submission=submission) if makes.pk is None else makes
        if made.measure not in MIXABLE or made.is_free:
            raise InventoryError(
                _("{name} cannot be made by a recipe: it must be stocked, by volume or by weight.", name=made)
            )
        if Recipe.objects.filter(makes=made).exists():
            raise InventoryError(_("{name} already has a recipe. Add a new version of that one.", name=made))
        if not name.strip() or Recipe.objects.filter(name=name).exists():
            raise InventoryError(_("Another recipe has this name. Choose a different one."))
        recipe = Recipe.objects.create(name=name, makes=made, notes=notes)
        _refuse_nonsense(recipe, parts)
        _write(recipe, 1, parts, basis, submission.on, notes="")
        return recipe


def write_version(
    *,
    recipe: Recipe,
    parts: Parts,
    basis: str,
    submission: Submission,
    notes: str = "",
    seen: int | None = None,
) -> RecipeVersion:
    """Change a recipe: its latest version if no mix has used it yet, else by a new version.

    Parts that are the same as before change nothing. Raises what write_recipe raises, and EditConflict.
    """
    with open_ledger(submission):
        refuse_stale(recipe, seen=seen, fields=[PARTS])
        _refuse_nonsense(recipe, parts)
        latest = recipe.versions.order_by("-number").first()
        if latest is None:
            return _write(recipe, 1, parts, basis, submission.on, notes)
        if latest.basis == basis and _written(latest) == [(material.pk, part) for material, part in parts]:
            return latest
        before, number = _facts(latest), latest.number + 1
        if not latest.mixes.exists():
            latest.parts.all().delete()
            latest.delete()
            number -= 1
        version = _write(recipe, number, parts, basis, submission.on, notes)
        record_change(recipe, field=PARTS, old=before, new=_facts(version))
        return version


@transaction.atomic
def refresh_made_from(material: Material) -> None:
    """Bring density and water share of everything made from a material up to date, after its own have changed."""
    using = Recipe.objects.filter(versions__parts__material=material).distinct().select_related("makes")
    for recipe in using:
        latest = recipe.versions.order_by("-number").prefetch_related("parts__material").first()
        if latest is not None and any(part.material_id == material.pk for part in latest.parts.all()):
            _settle_made(recipe.makes, latest)


def latest_versions() -> dict[int, RecipeVersion]:
    """The latest version of every recipe, by the material it makes, with parts and materials: two queries."""
    newest = (
        RecipeVersion.objects.annotate(newest=Max("recipe__versions__number"))
        .filter(number=F("newest"))
        .select_related("recipe__makes")
        .prefetch_related(Prefetch("parts", RecipePart.objects.select_related("material")))
    )
    return {version.recipe.makes_id: version for version in newest}


def plain_recipe(version: RecipeVersion) -> mixing.Recipe:
    """A version for the pure calculations."""
    return mixing.Recipe(
        parts=tuple(plain_parts(version)),
        basis=mixing.Basis(version.basis),
        measure=Measure(version.recipe.makes.measure),
    )


def cost_per_100ml(version: RecipeVersion) -> int | None:
    """What 100 mL of a version costs to mix at present unit costs, in millionths, as costs_per_100ml says."""
    return costs_per_100ml([version])[version.pk]


def costs_per_100ml(wanted: Sequence[RecipeVersion]) -> dict[int, int | None]:
    """What 100 mL of each version costs to mix at present unit costs, in millionths, by the version's number.

    A home-made part costs what the shelf holds of it cost, or else what its own recipe would. None while a cost or a
    density that this needs is not known. The same few queries however many versions.
    """
    latest = latest_versions()
    known = [*latest.values(), *wanted]
    costs = unit_costs({part.material for version in known for part in version.parts.all()})
    return {version.pk: _cost_per_100ml(version, latest, costs) for version in wanted}


def _cost_per_100ml(
    version: RecipeVersion, latest: Mapping[int, RecipeVersion], costs: Mapping[int, UnitCost]
) -> int | None:
    made = version.recipe.makes
    versions = {**latest, made.pk: version}
    to_expand = {pk: plain_recipe(each) for pk, each in versions.items() if pk == made.pk or pk not in costs}
    if made.measure != MeasureChoice.VOLUME and made.density is None:
        return None
    wanted = HUNDRED_MILLILITRES
    if made.measure != MeasureChoice.VOLUME:
        wanted = mass_of(HUNDRED_MILLILITRES, made.density or 0)
    try:
        needed = mixing.expand({made.pk: wanted}, to_expand).bought
    except (
        mixing.MixingError
    ):  # a density is missing, or an old version would need today's recipes in a circle
        return None
    if not needed.keys() <= costs.keys():
        return None
    return sum(costs[material].of(quantity) for material, quantity in needed.items())


def density_of(parts: Sequence[mixing.Part], basis: mixing.Basis) -> int | None:
    """Density of a mix in µg/mL, rounded half up: masses and volumes both add up. None when a part's is not known."""
    if any(part.density is None for part in parts):
        return None
    known = [(part.parts, part.density or 0) for part in parts]
    if basis is mixing.Basis.VOLUME:
        return divide_half_up(
            sum(share * density for share, density in known), sum(share for share, _ in known)
        )
    volume = sum((Fraction(share, density) for share, density in known), Fraction(0))
    exact = sum(share for share, _ in known) / volume
    return divide_half_up(exact.numerator, exact.denominator)


def water_share_of(parts: Sequence[mixing.Part], basis: mixing.Basis) -> int:
    """Added water in a mix by volume, in millionths; by the recipe's own basis while a density is missing."""
    if basis is mixing.Basis.MASS and all(part.density for part in parts):
        volumes = [divide_half_up(part.parts * 10**9, part.density or 1) for part in parts]
        return mixing.water_share(parts, volumes)
    return mixing.water_share(parts, [part.parts for part in parts])


def _refuse_nonsense(recipe: Recipe, parts: Parts) -> None:
    if not parts:
        raise InventoryError(_("A recipe needs at least one part."))
    if len({material.pk for material, _ in parts}) < len(parts):
        raise InventoryError(
            _("A material appears twice in this recipe. Add its parts together on one line.")
        )
    for material, part in parts:
        if part <= 0:
            raise InventoryError(
                _("{name}: its parts must be above zero. Leave out what is not used.", name=material)
            )
        if material.measure not in MIXABLE:
            raise InventoryError(
                _(
                    "{name} is measured by {measure} and cannot be mixed. Only materials measured by "
                    "volume or by weight can.",
                    name=material,
                    measure=_(UNMIXABLE[material.measure]),
                )
            )
    _refuse_circle(recipe, parts)


def _refuse_circle(recipe: Recipe, parts: Parts) -> None:
    versions = latest_versions()
    needs: dict[int, list[int]] = {
        made: [part.material_id for part in version.parts.all()] for made, version in versions.items()
    }
    needs[recipe.makes_id] = [material.pk for material, _ in parts]
    path = _way_back(recipe.makes_id, needs)
    if path:
        raise mixing.RecipeCycleError(path, _names(path))


def _way_back(start: int, needs: Mapping[int, Sequence[int]]) -> list[int]:
    """A path of materials from a made one back to itself; empty when there is none."""
    trail: list[tuple[int, list[int]]] = [(start, [start])]
    seen = set()
    while trail:
        material, path = trail.pop()
        for needed in needs.get(material, ()):
            if needed == start:
                return [*path, start]
            if needed not in seen:
                seen.add(needed)
                trail.append((needed, [*path, needed]))
    return []


def _names(path: Sequence[int]) -> dict[int, str]:
    return dict(Material.objects.filter(pk__in=path).values_list("pk", "name"))


def _written(version: RecipeVersion) -> list[tuple[int, int]]:
    return list(version.parts.order_by("line").values_list("material_id", "parts"))


def _facts(version: RecipeVersion) -> dict[str, Any]:
    """A version for the change log: its basis, and its parts in thousandths with the names that they have today."""
    parts = version.parts.select_related("material").order_by("line")
    listed = [
        {"material": part.material_id, "name": part.material.name, "parts": part.parts} for part in parts
    ]
    return {"basis": str(version.basis), "parts": listed}


def _write(recipe: Recipe, number: int, parts: Parts, basis: str, on: date, notes: str) -> RecipeVersion:
    version = RecipeVersion.objects.create(
        recipe=recipe, number=number, basis=mixing.Basis(basis), written_on=on, notes=notes
    )
    RecipePart.objects.bulk_create(
        RecipePart(version=version, material=material, parts=part, line=line)
        for line, (material, part) in enumerate(parts, start=1)
    )
    _settle_made(recipe.makes, version)
    return version


def _settle_made(made: Material, version: RecipeVersion) -> None:
    """Give the made material the density and the added water that its parts have, and pass them on upwards."""
    parts, basis = plain_parts(version), mixing.Basis(version.basis)
    density = density_of(parts, basis) or made.density
    water = water_share_of(parts, basis)
    if (density, water) != (made.density, made.water_share):
        made.density, made.water_share = density, water
        made.save(update_fields=["density", "water_share"])
        refresh_made_from(made)
