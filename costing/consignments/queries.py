"""Readers: what became of each piece of a note, and which notes are open. Money is millionths of the currency unit."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from django.db.models import QuerySet

from costing.consignments.models import Consignment, ConsignmentLine
from costing.locations.models import Placement
from costing.pieces.calculations import ENDS, State
from costing.pieces.models import Piece
from costing.pieces.queries import with_parts
from costing.selling.models import SaleLine


class Fate(StrEnum):
    """What became of a piece of a note."""

    THERE = "there"
    SOLD = "sold"
    RETURNED = "returned"
    GONE = "gone"  # given away, kept or written off


@dataclass(frozen=True, slots=True)
class LineState:
    """A line and what became of its piece: the line of a sale where it was sold, the day on which it left."""

    line: ConsignmentLine
    piece: Piece
    fate: Fate
    sale: SaleLine | None = None
    left_on: date | None = None


@dataclass(frozen=True, slots=True)
class NoteState:
    """A note with its lines. `value` is what was to be asked for those that are still there."""

    note: Consignment
    lines: tuple[LineState, ...]

    def count(self, fate: Fate) -> int:
        return sum(each.fate is fate for each in self.lines)

    @property
    def there(self) -> list[LineState]:
        return [each for each in self.lines if each.fate is Fate.THERE]

    @property
    def value(self) -> int:
        return sum(each.line.price for each in self.there)

    @property
    def is_settled(self) -> bool:
        """Whether every piece was sold, has come back, or is gone."""
        return not self.there

    @property
    def net_proceeds(self) -> int:
        """What the sales through the gallery's own channel brought, after tax and commission."""
        own = self.note.gallery.channel_id
        sold = [each.sale for each in self.lines if each.sale and each.sale.sale.channel_id == own]
        return sum(line.net_proceeds for line in sold)


def notes() -> QuerySet[Consignment]:
    return Consignment.objects.select_related("gallery__channel", "gallery__contact", "recorded_by")


def states_of(consignments: Iterable[Consignment]) -> list[NoteState]:
    """What became of every piece of these notes, in the same few queries however many there are."""
    consignments = list(consignments)
    lines = list(
        ConsignmentLine.objects.filter(consignment__in=[each.pk for each in consignments]).select_related(
            "placement"
        )
    )
    pieces = with_parts(Piece.objects.all()).in_bulk([line.placement.piece_id for line in lines])
    next_places = {
        each.after_id: each
        for each in Placement.objects.filter(after__in=[line.placement_id for line in lines])
    }
    sales = {
        line.piece_id: line
        for line in SaleLine.objects.filter(piece__in=pieces, returned_on__isnull=True).select_related(
            "sale__channel"
        )
    }
    by_note: dict[int, list[LineState]] = {each.pk: [] for each in consignments}
    for line in lines:
        piece = pieces[line.placement.piece_id]
        state = _state(line, piece, next_places.get(line.placement_id), sales.get(piece.pk))
        by_note[line.consignment_id].append(state)
    return [NoteState(each, tuple(by_note[each.pk])) for each in consignments]


def state_of(consignment: Consignment) -> NoteState:
    return states_of([consignment])[0]


def _state(line: ConsignmentLine, piece: Piece, after: Placement | None, sale: SaleLine | None) -> LineState:
    if after is not None:
        return LineState(line, piece, Fate.RETURNED, left_on=after.on)
    if piece.state == State.SOLD and sale is not None:
        return LineState(line, piece, Fate.SOLD, sale, sale.sale.sold_on)
    if piece.state in ENDS:
        return LineState(line, piece, Fate.GONE)
    return LineState(line, piece, Fate.THERE)


def open_notes() -> list[NoteState]:
    """Notes of which a piece is still at the gallery, the latest first."""
    current = ConsignmentLine.objects.filter(placement__followed_by__isnull=True)
    here = current.exclude(placement__piece__state__in=ENDS)
    return states_of(notes().filter(pk__in=here.values("consignment")))
