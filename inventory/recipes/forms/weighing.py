"""What stands beside the parts of a cup: the plan, weights, and what one scale shows that is never reset."""

from collections.abc import Sequence
from dataclasses import dataclass

from inventory.materials.models import Material
from inventory.recipes import calculations as mixing
from inventory.recipes.actions import mixes
from inventory.recipes.actions.mixes import Ingredient
from studio.errors import MeniscusError
from studio.preferences.formatting import Formatter
from studio.translation import _
from studio.values.units import Measure


@dataclass(frozen=True, slots=True)
class CupTotals:
    """What the parts of a cup come to, in words."""

    parts: str
    total: str
    water: str
    is_watery: bool

    @classmethod
    def of(cls, makes: Material, ingredients: Sequence[Ingredient], formatter: Formatter) -> "CupTotals":
        used = [item for item in ingredients if item.quantity]
        try:
            total = formatter.quantity(mixes.total_of(used, Measure(makes.measure)), makes.measure)
        except MeniscusError:
            total = ""
        water = mixes.water_in(used)
        parts = ", ".join(
            f"{formatter.quantity(item.quantity, item.material.measure)} {item.material.name}"
            for item in ingredients
        )
        return cls(parts, total, formatter.percent(water) if water else "", mixing.is_too_watery(water))


def notes_on_parts(
    planned: Sequence[Ingredient], used: Sequence[Ingredient], formatter: Formatter
) -> list[str]:
    """What stands beside the amount of each part."""
    notes = []
    on_the_scale: int | None = 0
    for plan, item in zip(planned, used, strict=True):
        grams = _mass_in(item)
        on_the_scale = None if on_the_scale is None or grams is None else on_the_scale + grams
        notes.append(_note(plan, grams, on_the_scale, formatter))
    return notes


def _note(planned: Ingredient, grams: int | None, scale: int | None, formatter: Formatter) -> str:
    """The plan for one part, its weight, and what the scale shows after it."""
    plan = formatter.quantity(planned.quantity, planned.material.measure)
    if grams is None:
        return _("Planned {plan}; no weight, because the density is unknown.", plan=plan)
    weight = formatter.short_quantity(grams, Measure.MASS)
    shows = "" if scale is None else formatter.short_quantity(scale, Measure.MASS)
    if planned.material.measure == Measure.MASS:
        if not shows:
            return _("Planned {plan}.", plan=plan)
        return _("Planned {plan}; scale shows {scale}.", plan=plan, scale=shows)
    if not shows:
        return _("Planned {plan}; weighs {weight}.", plan=plan, weight=weight)
    return _("Planned {plan}; weighs {weight}; scale shows {scale}.", plan=plan, weight=weight, scale=shows)


def _mass_in(item: Ingredient) -> int | None:
    """A part's weight, if its density is known."""
    try:
        return mixes.in_measure(item.material, item.quantity, Measure.MASS)
    except MeniscusError:
        return None
