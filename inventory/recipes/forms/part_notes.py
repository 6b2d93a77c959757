"""What stands beside the amount of each part of a cup: the plan, its weight, and what the scale or cup shows."""

from collections.abc import Sequence

from inventory.recipes.actions import mixes
from inventory.recipes.actions.mixes import Ingredient
from inventory.recipes.measuring import to_step
from inventory.recipes.queries import measured_out
from studio.errors import MeniscusError
from studio.preferences.formatting import Formatter
from studio.preferences.models import MeasuresBy, Studio
from studio.translation import _
from studio.values.units import Measure


def notes_on_parts(planned: Sequence[Ingredient], used: Sequence[Ingredient], studio: Studio) -> list[str]:
    """A note for each part, in pouring order, rounded to what the studio's scale or measuring cup can tell."""
    formatter = Formatter.of(studio)
    by_weight = studio.measures_by == MeasuresBy.WEIGHT
    measure = Measure.MASS if by_weight else Measure.VOLUME
    step = studio.scale_step if by_weight else studio.measuring_step
    readings = measured_out([_in(measure, item) for item in used], step)
    notes = []
    for plan, item, reading in zip(planned, used, readings, strict=True):
        own = studio.scale_step if plan.material.measure == Measure.MASS else studio.measuring_step
        words = formatter.quantity(to_step(plan.quantity, own) or plan.quantity, plan.material.measure)
        amount = _in(measure, item)
        if amount is None:
            notes.append(_unknown(words, by_weight))
            continue
        shows = "" if reading is None else formatter.quantity(reading.shows, measure)
        rounded = to_step(amount, step) if reading is None else reading.amount
        other = "" if plan.material.measure == measure else formatter.quantity(rounded, measure)
        notes.append(_note(words, other, shows, by_weight))
    return notes


def _unknown(plan: str, by_weight: bool) -> str:
    if by_weight:
        return _("Planned {plan}; no weight, because the density is unknown.", plan=plan)
    return _("Planned {plan}; no volume, because the density is unknown.", plan=plan)


def _note(plan: str, amount: str, shows: str, by_weight: bool) -> str:
    """The plan for one part, the same by weight or by volume, and what the scale or measuring cup shows after it."""
    parts = [_("Planned {plan}", plan=plan)]
    if amount:
        parts.append(_("weighs {weight}", weight=amount) if by_weight else _("fills {volume}", volume=amount))
    if shows:
        parts.append(
            _("scale shows {scale}", scale=shows) if by_weight else _("cup shows {reading}", reading=shows)
        )
    return "; ".join(parts) + "."


def _in(measure: Measure, item: Ingredient) -> int | None:
    """A part by weight or by volume, if its density is known."""
    try:
        return mixes.in_measure(item.material, item.quantity, measure)
    except MeniscusError:
        return None
