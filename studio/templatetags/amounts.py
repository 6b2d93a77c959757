"""Template tags that write quantities, money and days the studio's way.

They read `studio` from the page's context.
"""

from datetime import date

from django import template
from django.template import Context

from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio

register = template.Library()


def _shown(context: Context) -> Formatter:
    formatter = context.get("formatter")
    if isinstance(formatter, Formatter):
        return formatter
    studio = context.get("studio")
    return Formatter.of(studio if isinstance(studio, Studio) else Studio.current())


@register.simple_tag(takes_context=True)
def quantity(context: Context, amount: int, measure: str) -> str:
    """{% quantity lot.balance.quantity material.measure %} → 1,250 mL"""
    return _shown(context).quantity(amount, measure)


@register.simple_tag(takes_context=True)
def short_quantity(context: Context, amount: int, measure: str) -> str:
    """{% short_quantity amount measure %} → 1.25 L"""
    return _shown(context).short_quantity(amount, measure)


@register.simple_tag(takes_context=True)
def money(context: Context, amount: int) -> str:
    """{% money sale.price %} → £45.00"""
    return _shown(context).money(amount)


@register.simple_tag(takes_context=True)
def unit_cost(context: Context, amount: int, quantity: int, measure: str) -> str:
    """{% unit_cost money quantity measure %} → £0.0213 per mL"""
    return _shown(context).unit_cost(amount, quantity, measure)


@register.simple_tag(takes_context=True)
def day(context: Context, value: date | None) -> str:
    """{% day session.held_on %} → 12 Mar 2026"""
    return _shown(context).day(value)


@register.simple_tag(takes_context=True)
def percent(context: Context, millionths: int) -> str:
    """{% percent route.commission %} → 35 %"""
    return _shown(context).percent(millionths)
