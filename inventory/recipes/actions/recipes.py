"""The writer for recipes.

Parts are thousandths of a part. A version that has been used in a mix never changes: a change is a new version.
"""

from collections.abc import Sequence
from datetime import date
from typing import Any

from django.db import transaction

from inventory.errors import InventoryError
from inventory.ledger.posting import open_ledger
from inventory.materials.actions import save_material
from inventory.materials.models import Material, MeasureChoice
from inventory.recipes import calculations as mixing
from inventory.recipes.models import PARTS, Recipe, RecipePart, RecipeVersion
from inventory.recipes.queries import latest_version, latest_versions, plain_part, plain_recipe
from studio.auditing.edit_conflicts import refuse_stale
from studio.auditing.recording import record_change
from studio.auditing.writing import create_all
from studio.submission import Submission
from studio.translation import _
from studio.values.units import Measure

MIXABLE = (MeasureChoice.VOLUME, MeasureChoice.MASS)
Parts = Sequence[tuple[Material, int]]


def write_recipe(
    *,
    name: str,
    makes: Material,
    basis: str,
    parts: Parts,
    submission: Submission,
    notes: str = "",
    by_ratio: bool = False,
) -> Recipe:
    """Write a recipe and its first version, and the material it makes if that is new; `by_ratio` when a ratio did.

    Raises InventoryError for parts that cannot be mixed, InputError for a new material that cannot be, and
    RecipeCycleError naming the circle when the recipe would need itself.
    """
    # Whoever mixes holds this lock, and so does whoever writes a recipe: no version is used while it is replaced, and
    # two recipes written at once cannot close a circle.
    with open_ledger(submission):
        if makes.measure not in MIXABLE or makes.is_free:
            raise InventoryError(
                _(
                    "{name} cannot be made by a recipe: it must be stocked, by volume or by weight.",
                    name=makes,
                )
            )
        if makes.pk is not None and Recipe.objects.filter(makes=makes).exists():
            raise InventoryError(_("{name} already has a recipe. Add a new version of that one.", name=makes))
        if not name.strip() or Recipe.objects.filter(name=name).exists():
            raise InventoryError(_("Another recipe has this name. Choose a different one."))
        return add_recipe(
            Recipe(name=name, makes=makes, notes=notes, by_ratio=by_ratio),
            parts,
            basis,
            submission=submission,
        )


def add_recipe(recipe: Recipe, parts: Parts, basis: str, *, submission: Submission) -> Recipe:
    """Save a recipe with its first version, and the material it makes if that is new.

    For whoever holds the ledger's lock already, and knows the names to be free and the material to have no recipe.
    """
    made = recipe.makes
    _refuse_nonsense(made, parts)
    if made.pk is None:
        made.density, made.water_share = _density_and_water(made, parts, basis)
        save_material(made, submission=submission)
    recipe.makes = made  # saved by now
    recipe.save(force_insert=True)
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
        _refuse_nonsense(recipe.makes, parts)
        latest = latest_version(recipe)
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
        latest = latest_version(recipe)
        if latest is not None and any(part.material_id == material.pk for part in latest.parts.all()):
            parts = [(part.material, part.parts) for part in latest.parts.all()]
            _settle_made(recipe.makes, parts, latest.basis)


def _refuse_nonsense(made: Material, parts: Parts) -> None:
    if not parts:
        raise InventoryError(_("A recipe needs at least one part. Add one."))
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
                    measure=_(material.measure),
                )
            )
    if made.pk is None:
        return  # nothing is made from it yet, so there is no circle
    recipes = {pk: plain_recipe(version) for pk, version in latest_versions().items()}
    plain = tuple(mixing.Part(material.pk, part) for material, part in parts)
    names = dict(Material.objects.values_list("pk", "name"))
    mixing.expand({made.pk: 0}, recipes | {made.pk: mixing.Recipe(plain)}, names=names)


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
    create_all(
        RecipePart(version=version, material=material, parts=part, line=line)
        for line, (material, part) in enumerate(parts, start=1)
    )
    _settle_made(recipe.makes, parts, basis)
    return version


def _density_and_water(made: Material, parts: Parts, basis: str) -> tuple[int | None, int]:
    """Density and added water of a made material by its parts; its own density where one of theirs is unknown."""
    plain = mixing.Recipe(
        tuple(plain_part(material, part) for material, part in parts),
        mixing.Basis(basis),
        Measure(made.measure),
    )
    return plain.density or made.density, plain.water_share


def _settle_made(made: Material, parts: Parts, basis: str) -> None:
    """Give the made material the density and the added water that its parts have, and pass them on upwards."""
    density, water = _density_and_water(made, parts, basis)
    if (density, water) != (made.density, made.water_share):
        made.density, made.water_share = density, water
        made.save(update_fields=["density", "water_share"])
        refresh_made_from(made)
