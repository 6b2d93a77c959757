"""Why a level is what it is, in two sentences or three, for somebody who paints."""

from typing import Protocol

from inventory.materials.models import Material
from inventory.reordering.calculations.lead_times import LeadTime
from inventory.reordering.calculations.levels import (
    DAYS_SUMMED,
    FIRST_GUESS_DAYS,
    GUESS_DROPPED_AFTER,
    LEAST_DAYS,
    PastUse,
    UseUntilDelivery,
)
from studio.preferences.formatting import Formatter
from studio.translation import _, ngettext

FEW_USES = 10
# Of new materials about one delivery in eight comes too late (the back-test's figure for 14 to 60 days of history).
FIRST_GUESS_LATE = 8
MOST_IN = 1_000  # rarer than this is not worth a figure


class Figures(Protocol):
    """What a reason is told from: a level."""

    @property
    def material(self) -> Material: ...
    @property
    def level(self) -> int | None: ...
    @property
    def calculated(self) -> int | None: ...
    @property
    def service(self) -> float | None: ...
    @property
    def use(self) -> UseUntilDelivery | None: ...
    @property
    def lead(self) -> LeadTime: ...
    @property
    def is_lead_assumed(self) -> bool: ...


def reason_for(figures: Figures, past: PastUse, service: float, formatter: Formatter) -> str:
    """Where a level comes from, or why there is none."""
    material = figures.material
    if material.reorder_level is not None:
        return _own_level(figures, formatter)
    if figures.use is None:
        return _no_use(material, past)
    amount = formatter.short_quantity(figures.level or 0, material.measure)
    days = round(figures.lead.mean)
    if material.safety_stock is not None:
        own = ngettext(
            "Order when {amount} is left: average use over {days} day of lead time and your own safety stock.",
            "Order when {amount} is left: average use over {days} days of lead time and your own safety stock.",
            days,
            amount=amount,
            days=days,
        )
        return " ".join(filter(None, (own, _how_sure_the_lead_is(figures))))
    times = round(1 / (1 - service))
    promise = ngettext(
        "Order when {amount} is left: it should last until the delivery arrives (usually {days} day), {often} times "
        "in {times}.",
        "Order when {amount} is left: it should last until the delivery arrives (usually {days} days), {often} times "
        "in {times}.",
        days,
        amount=amount,
        days=days,
        often=times - 1,
        times=times,
    )
    rests_on = _what_it_rests_on(figures.use, material)
    return " ".join(filter(None, (promise, _how_sure_the_lead_is(figures), rests_on)))


def _how_sure_the_lead_is(figures: Figures) -> str:
    if not figures.is_lead_assumed:
        return ""
    return _(
        "The lead time is an assumption: list a supplier for this material and enter how long it delivers."
    )


def _what_it_rests_on(use: UseUntilDelivery, material: Material) -> str:
    if material.guessed_use and use.days < GUESS_DROPPED_AFTER:
        return _("So far it rests partly on the use that you expect.")
    if use.days < FIRST_GUESS_DAYS:
        return ngettext(
            "A first guess from {n} day: about 1 delivery in {times} may come too late.",
            "A first guess from {n} days: about 1 delivery in {times} may come too late.",
            use.days,
            n=use.days,
            times=FIRST_GUESS_LATE,
        )
    if use.uses < FEW_USES:
        return ngettext(
            "It was used on {n} day only so far, so this allows for more.",
            "It was used on {n} days only so far, so this allows for more.",
            use.uses,
            n=use.uses,
        )
    if use.days >= DAYS_SUMMED:
        return _("This counts two years of use, large sessions and late deliveries included.")
    return _("This counts {n} days of use, large sessions and late deliveries included.", n=use.days)


def _own_level(figures: Figures, formatter: Formatter) -> str:
    """What the owner's own level means, and what would be calculated."""
    own = _("Your own level.")
    if figures.use is None or figures.service is None or figures.calculated is None:
        return own
    calculated = formatter.short_quantity(figures.calculated, figures.material.measure)
    late = 1 - figures.service
    if late >= 0.5:
        meaning = _("With it, most deliveries would come too late;")
    elif late * MOST_IN < 1:
        meaning = _("With it, fewer than 1 delivery in {times} would come too late;", times=MOST_IN)
    else:
        meaning = _("With it, about 1 delivery in {times} would come too late;", times=round(1 / late))
    return f"{own} {meaning} " + _("the calculated level is {amount}.", amount=calculated)


def _no_use(material: Material, past: PastUse) -> str:
    """Why use says nothing of the level yet."""
    has_safety = material.safety_stock is not None
    if past.days >= LEAST_DAYS or not past.is_recent:
        if has_safety:
            return _("Your own safety stock; nothing was used in the last year.")
        return _(
            "Until yesterday nothing was used for a year, so there is no reorder level. Set your own to be alerted."
        )
    return _too_short(past.days, has_safety=has_safety)


def _too_short(days: int, *, has_safety: bool) -> str:
    if has_safety:
        return ngettext(
            "Your own safety stock; only {n} day of history so far, and use is counted from {least} days.",
            "Your own safety stock; only {n} days of history so far, and use is counted from {least} days.",
            days,
            n=days,
            least=LEAST_DAYS,
        )
    return ngettext(
        "Only {n} day of history. A reorder level is calculated after {least} days; set your own to "
        "be alerted sooner, or say how much you expect to use.",
        "Only {n} days of history. A reorder level is calculated after {least} days; set your own to "
        "be alerted sooner, or say how much you expect to use.",
        days,
        n=days,
        least=LEAST_DAYS,
    )
