"""Pieces that are ready to varnish, told as alerts, and drying times in the calendar."""

from collections.abc import Iterator
from datetime import date, timedelta

from django.utils.translation import gettext_lazy

from costing.pieces.calculations import State
from costing.pieces.queries import ready_on, standing_pieces, with_parts
from inventory.alerts.calendars import DayEvent
from inventory.alerts.kinds import Cause, Figures, Kind, Look, Rule, day_of, page
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.translation import _, ngettext

DRYING = (State.WET, State.DRY)


def _ready_in_words(figures: Figures, formatter: Formatter) -> str:
    days = figures["dried"]
    return ngettext(
        "{piece}, made {day}: its {n} day of drying is over.",
        "{piece}, made {day}: its {n} days of drying are over.",
        days,
        n=days,
        piece=figures["piece"],
        day=formatter.day(day_of(figures["made"])),
    )


READY_TO_VARNISH = Kind(
    "ready_to_varnish",
    gettext_lazy("Ready to varnish"),
    gettext_lazy("A piece that is not finished yet has dried for as many days as the settings say."),
    _ready_in_words,
    page("costing:piece"),
    urgency=100,
    badge="good",
)


def ready_to_varnish(look: Look) -> Iterator[Cause]:
    """Pieces, wet or dry, whose drying days are over."""
    dried = timedelta(days=look.studio.varnish_after_days)
    pieces = standing_pieces().filter(state__in=DRYING, made_on__lte=look.on - dried)
    for piece in with_parts(pieces):
        figures = {
            "name": piece.title,
            "piece": piece.label,
            "made": piece.made_on.isoformat(),
            "dried": dried.days,
        }
        yield Cause(READY_TO_VARNISH.code, str(piece.pk), ready_on(piece, look.studio), figures)


def drying_ends(first: date, last: date) -> Iterator[DayEvent]:
    """When pieces may be varnished."""
    studio = Studio.current()
    dried = timedelta(days=studio.varnish_after_days)
    pieces = standing_pieces().filter(state__in=DRYING, made_on__range=(first - dried, last - dried))
    for piece in pieces:
        title = _("Ready to varnish: {piece}", piece=piece.title)
        yield DayEvent(f"drying-{piece.pk}", ready_on(piece, studio), title)


RULE = Rule((READY_TO_VARNISH,), ready_to_varnish)
