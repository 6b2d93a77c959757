"""Cautions where the work is, by the step that they belong to, and hazards as the suppliers state them."""

from collections.abc import Iterable
from typing import Any

from django import template

from inventory.materials.cautions import BY_NAME, has_flammables, hazards_of
from inventory.materials.models import Material

register = template.Library()


@register.inclusion_tag("parts/caution_line.html")
def caution(step: str) -> dict[str, Any]:
    """One line beside a step, and what else can hurt there, unfolded."""
    return {"caution": BY_NAME[step]()}


@register.inclusion_tag("materials/hazard_lines.html")
def hazards(materials: Material | Iterable[Material], *, are_stored: bool = False) -> dict[str, Any]:
    """What the data sheets of these materials say; `are_stored` says how what burns easily is kept."""
    those = [materials] if isinstance(materials, Material) else list(materials)
    return {"hazards": hazards_of(those), "burns": are_stored and has_flammables(those)}
