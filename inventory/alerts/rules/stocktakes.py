"""A stocktake that is due."""

from collections.abc import Iterator
from datetime import date

from django.db.models import Max, Min, Q
from django.urls import reverse
from django.utils.translation import gettext_lazy

from inventory.alerts.kinds import Cause, Figures, Kind, Look, Rule, day_of
from inventory.ledger.models import Posting
from inventory.stock.models import Stocktake
from studio.preferences.formatting import Formatter
from studio.translation import ngettext
from studio.values.periods import months_after


def _due_in_words(figures: Figures, formatter: Formatter) -> str:
    day, months = formatter.day(day_of(figures["last"])), figures["months"]
    if figures["never"]:
        return ngettext(
            "No stocktake since you began on {day}; one is due every month.",
            "No stocktake since you began on {day}; one is due every {n} months.",
            months,
            n=months,
            day=day,
        )
    return ngettext(
        "The last stocktake was on {day}; one is due every month.",
        "The last stocktake was on {day}; one is due every {n} months.",
        months,
        n=months,
        day=day,
    )


STOCKTAKE_DUE = Kind(
    "stocktake_due",
    gettext_lazy("Stocktake due"),
    gettext_lazy("The last stocktake is longer ago than the settings say."),
    _due_in_words,
    lambda _key: reverse("inventory:stocktakes"),
    urgency=90,
    badge="note",
    subject=gettext_lazy("All stock"),
)


def due_stocktake(look: Look) -> Iterator[Cause]:
    """One when the last stocktake, or without any the first posting, is so many months ago."""
    months = look.studio.stocktake_months
    last = _last_stocktake() if months else None
    first = Posting.objects.aggregate(day=Min("effective_on"))["day"] if months and last is None else None
    since = last or first
    if since is None:
        return
    due = months_after(since, months)
    if due <= look.on:
        figures = {"name": "", "last": since.isoformat(), "months": months, "never": last is None}
        yield Cause(STOCKTAKE_DUE.code, "stocktake", due, figures)


def _last_stocktake() -> date | None:
    """The day of the last stocktake that was not reversed; one that found no difference posted nothing."""
    standing = Stocktake.objects.filter(Q(posting__isnull=True) | Q(posting__reversed_by__isnull=True))
    day: date | None = standing.aggregate(day=Max("counted_on"))["day"]
    return day


RULES = (Rule((STOCKTAKE_DUE,), due_stocktake, rechecked=True),)
