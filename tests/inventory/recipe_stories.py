"""A home-made medium, a ratio, and a recipe as the browser sends it, for the tests of the recipe pages."""

from typing import Any

from django.urls import reverse

from inventory.materials.models import Kind, Material
from inventory.recipes.actions.ratios import RatioFacts, RatioPartFacts, save_ratio
from inventory.recipes.models import Ratio, Recipe, RecipeVersion
from inventory.recipes.ratio_parts import read_notation
from tests.making import make_lot, make_material, make_recipe, make_submission, make_water, money


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


def ratio_facts(written: str, **facts: Any) -> RatioFacts:
    """A ratio as it is typed: "1 : 2 : ½"."""
    parts = read_notation(written, decimal_comma=False)
    return RatioFacts([RatioPartFacts(part.role, part.amount, part.unit) for part in parts], **facts)


def make_ratio(written: str = "1 : 2 : ½", *, name: str = "Thin", **facts: Any) -> Ratio:
    return save_ratio(facts=ratio_facts(written, name=name, **facts), submission=make_submission())
