"""Cautions where the work is, by the step that they belong to, and hazards as the suppliers state them."""

from collections.abc import Iterable
from typing import Any

from django import template

from inventory.materials.cautions import BY_NAME, has_flammables, hazards_of, states_hazards
from inventory.materials.models import Material
from studio.pages.formsets import Rows

register = template.Library()


@register.inclusion_tag("parts/caution_line.html")
def caution(step: str) -> dict[str, Any]:
    """One line beside a step, and what else can hurt there, unfolded."""
    return {"caution": BY_NAME[step]()}


@register.inclusion_tag("materials/hazard_lines.html")
def hazards(materials: Material | Iterable[Material] | None, *, are_stored: bool = False) -> dict[str, Any]:
    """What the data sheets of these materials say; `are_stored` says how what burns easily is kept."""
    those = [materials] if isinstance(materials, Material) else list(materials or ())
    return {"hazards": hazards_of(those), "burns": are_stored and has_flammables(those)}


@register.inclusion_tag("materials/hazard_choices.html")
def hazard_choices(*formsets: Rows) -> dict[str, Any]:
    """The same for everything that rows offer, so that a script shows it beside a choice as soon as it is made."""
    offered = {pk: each for rows in formsets for pk, each in rows.form_kwargs["materials"].items()}
    return {"materials": [each for each in offered.values() if states_hazards(each)]}
