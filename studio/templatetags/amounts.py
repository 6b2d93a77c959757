"""Template tags that write quantities, money and days the studio's way.

    {% quantity lot.balance.quantity material.measure %} → 1,250 mL
    {% short_quantity amount measure %} → 1.25 L
    {% money sale.price %} → £45.00
    {% unit_cost money quantity measure %} → £2.13 per 100 mL
    {% day session.held_on %} → 12 Mar 2026
    {% moment backup.made_at %} → 12 Mar 2026, 14:05
    {% percent channel.commission %} → 35%
    {% size paint.size %} → 20 × 30 cm
    {% density material.density %} → 1.065 g/mL

Each is the method of that name of the page's formatter.
"""

from typing import Any

from django import template
from django.template import Context

from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio

register = template.Library()


def _add_tag(name: str) -> None:
    @register.simple_tag(takes_context=True, name=name)
    def write(context: Context, *values: Any) -> str:
        formatter = context.get("formatter")
        if not isinstance(formatter, Formatter):
            formatter = Formatter.of(context.get("studio") or Studio.current())
        text: str = getattr(formatter, name)(*values)
        return text


for _name in (
    "quantity",
    "tenths",
    "short_quantity",
    "money",
    "unit_cost",
    "day",
    "moment",
    "percent",
    "percent_sign",
    "size",
    "density",
):
    _add_tag(_name)
