"""What became of a piece of a note, and of a whole note, in words."""

from collections.abc import Mapping
from types import MappingProxyType

from costing.consignments.queries import Fate, LineState, NoteState
from studio.translation import _, ngettext, noop

FATES: Mapping[Fate, str] = MappingProxyType(
    {
        Fate.THERE: noop("At the gallery"),
        Fate.SOLD: noop("Sold"),
        Fate.RETURNED: noop("Returned"),
        Fate.GONE: noop("Given away, kept or written off"),
    }
)
BADGES = {Fate.THERE: "wait", Fate.SOLD: "good", Fate.RETURNED: "note", Fate.GONE: "stop"}


def fate_badge(state: LineState) -> tuple[str, str]:
    return BADGES[state.fate], _(FATES[state.fate])


def sold_elsewhere(state: LineState, channel: int | None) -> str:
    """The channel of a piece that was not sold by the gallery itself."""
    if state.sale is None or state.sale.sale.channel_id == channel:
        return ""
    return state.sale.sale.channel.name


def note_badge(state: NoteState) -> tuple[str, str]:
    if state.is_settled:
        return "good", _("Settled")
    count = len(state.there)
    return "wait", ngettext("{n} piece there", "{n} pieces there", count, n=count)
