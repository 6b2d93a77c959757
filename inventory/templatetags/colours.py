"""The colours of what can be chosen from a list, which a script shows beside the choice."""

from typing import Any

from django import template

from inventory.materials.models import Material
from inventory.recipes.models import Recipe

register = template.Library()


@register.inclusion_tag("recipes/choice_colours.html")
def choice_colours() -> dict[str, Any]:
    """Once for the whole page: on every option of every list they would be many times the weight."""
    of_materials = Material.objects.exclude(colour="").order_by("pk").values_list("pk", "colour")
    of_recipes = Recipe.objects.exclude(makes__colour="").order_by("pk").values_list("pk", "makes__colour")
    return {
        "colours": {
            **{f"m{pk}": colour for pk, colour in of_materials},
            **{f"r{pk}": colour for pk, colour in of_recipes},
        }
    }
