"""Amounts as they are measured out at the bench."""

from typing import Any

from django import template
from django.template.context import RequestContext

from studio.values.allocation import divide_half_up

register = template.Library()


@register.simple_tag(takes_context=True)
def bench_amount(context: RequestContext, amount: int | None, measure: str) -> Any:
    """To a tenth, and never in litres, which would hide what the scale must show. An unknown amount is a dash."""
    if amount is None:
        return "–"
    return context["formatter"].quantity(divide_half_up(amount, 100) * 100, measure)
