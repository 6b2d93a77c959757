"""Cautions where the work is, by the step that they belong to."""

from typing import Any

from django import template

from inventory.materials.cautions import BY_NAME

register = template.Library()


@register.inclusion_tag("parts/caution_line.html")
def caution(step: str) -> dict[str, Any]:
    """One line beside a step, and what else can hurt there, unfolded."""
    return {"caution": BY_NAME[step]()}
