"""What stands beside the parts of a cup: the plan, weights, and what one scale shows that is never reset."""

from dataclasses import dataclass

from inventory.recipes.actions import mixes
from inventory.recipes.actions.mixes import Ingredient
from studio.errors import MeniscusError
from studio.preferences.formatting import Formatter
from studio.translation import _
from studio.values.units import Measure


@dataclass(frozen=True, slots=True)
class Sheet:
    """What the parts of a cup come to, in words."""

    parts: str
    total: str
    water: str
    is_watery: bool


def about_part(planned: Ingredient, grams: int | None, scale: int | None, formatter: Formatter) -> str:
    """What stands beside the amount of a part: the plan, its weight, and what the scale shows after it."""
    plan = formatter.quantity(planned.quantity, planned.material.measure)
    if grams is None:
        return _("Planned {plan}; no density known, so no weight.", plan=plan)
    weight = formatter.short_quantity(grams, Measure.MASS)
    shows = "" if scale is None else formatter.short_quantity(scale, Measure.MASS)
    if planned.material.measure == Measure.MASS:
        if not shows:
            return _("Planned {plan}.", plan=plan)
        return _("Planned {plan}; scale shows {scale}.", plan=plan, scale=shows)
    if not shows:
        return _("Planned {plan}; weighs {weight}.", plan=plan, weight=weight)
    return _("Planned {plan}; weighs {weight}; scale shows {scale}.", plan=plan, weight=weight, scale=shows)


def mass_in(item: Ingredient) -> int | None:
    """A part's weight, if its density is known."""
    try:
        return mixes.in_measure(item.material, item.quantity, Measure.MASS)
    except MeniscusError:
        return None
