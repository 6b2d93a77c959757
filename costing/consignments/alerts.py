"""Consignments whose agreed time is over while pieces are still at the gallery, told as alerts."""

from collections.abc import Iterator

from django.utils.translation import gettext_lazy

from costing.consignments.queries import open_notes
from inventory.alerts.kinds import Cause, Figures, Kind, Look, Rule, day_of, page
from studio.preferences.formatting import Formatter
from studio.translation import ngettext


def _over_in_words(figures: Figures, formatter: Formatter) -> str:
    count = figures["pieces"]
    return ngettext(
        "Agreed until {day}; {n} piece is still there. Take it back, or agree on a new note.",
        "Agreed until {day}; {n} pieces are still there. Take them back, or agree on a new note.",
        count,
        n=count,
        day=formatter.day(day_of(figures["until"])),
    )


CONSIGNMENT_OVER = Kind(
    "consignment_over",
    gettext_lazy("Consignment over"),
    gettext_lazy(
        "The agreed time of a consignment note is over, and some of its pieces are still at the gallery."
    ),
    _over_in_words,
    page("costing:consignment"),
    urgency=88,
)


def consignments_over(look: Look) -> Iterator[Cause]:
    """Notes whose last day is over although something of them is still there."""
    for state in open_notes():
        note = state.note
        if note.until is not None and note.until < look.on:
            figures = {
                "name": f"{note.gallery.name}, {note.number}",
                "pieces": len(state.there),
                "until": note.until.isoformat(),
            }
            yield Cause(CONSIGNMENT_OVER.code, str(note.pk), note.until, figures)


RULE = Rule((CONSIGNMENT_OVER,), consignments_over)
