"""A home-made medium, and a recipe as the browser sends it, for the tests of the recipe pages."""

from typing import Any

from django.urls import reverse

from inventory.materials.models import Kind, Material
from inventory.recipes.models import Recipe, RecipeVersion
from tests.making import make_lot, make_material, make_recipe, make_water, money


def page_of(recipe: Recipe, name: str = "recipe") -> str:
    return reverse(f"inventory:{name}", args=[recipe.pk])


def loft_medium(**facts: Any) -> RecipeVersion:
    """Two parts glue to one of water (common practice, no source), with a litre of glue for £6."""
    glue = make_lot(material=make_material(name="Glue", kind=Kind.MEDIUM), cost=money(6)).material
    made = make_material(name="Loft medium", kind=Kind.MEDIUM, colour="#d9eaeb")
    return make_recipe(
        parts=[(glue, 2), (make_water(name="Tap water"), 1)], makes=made, **({"name": "Loft medium"} | facts)
    )


def sent(*parts: tuple[Material | None, str], **said: Any) -> dict[str, Any]:
    """A recipe as the browser sends it."""
    data: dict[str, Any] = {
        "name": "Tide Blue",
        "basis": "volume",
        "makes": "",
        "new_name": "",
        "kind": "mix",
        "measure": "volume",
        "colour": "",
        "keeps_days": "",
        "notes": "",
        "parts-TOTAL_FORMS": str(len(parts) + 2),
        "parts-INITIAL_FORMS": "0",
    } | said
    for number, (material, number_of_parts) in enumerate(parts):
        data |= {
            f"parts-{number}-material": material.pk if material else "",
            f"parts-{number}-parts": number_of_parts,
        }
    return data
