"""The list of places with what each holds, and the pieces at one of them."""

from dataclasses import dataclass

from django.urls import reverse
from django.utils.translation import gettext_lazy as _

from costing.locations.models import LocationKind, Placement
from costing.locations.queries import LENT, STUDIO, Held
from costing.locations.wording import held_name
from costing.pieces.models import Piece
from costing.pieces.tables import piece_column, piece_state_column
from studio.pages.addresses import row_address
from studio.pages.columns import Column, DayColumn, MoneyColumn, NumberColumn
from studio.pages.tables import Table

KINDS = {STUDIO: "", LENT: "", **dict(LocationKind.choices)}


def _page_of(held: Held) -> str:
    if held.location is not None:
        return row_address("costing:location", held.location.pk)
    return f"{reverse('costing:pieces')}?place={held.kind}"


class LocationTable(Table[Held]):
    caption = _("Locations")
    file_name = "locations"
    columns = (
        Column("name", _("Location"), held_name, link=_page_of),
        Column("kind", _("Kind"), lambda row: KINDS[row.kind]),
        NumberColumn("pieces", _("Pieces"), lambda row: row.count),
        MoneyColumn("value", _("Value at asking prices"), lambda row: row.value),
    )


@dataclass(frozen=True, slots=True)
class PlacedPiece:
    """A piece at a location, and the placement by which it is there."""

    piece: Piece
    placement: Placement


class PlacedPieceTable(Table[PlacedPiece]):
    caption = _("Pieces there now")
    file_name = "location"
    columns = (
        piece_column(),
        piece_state_column(),
        DayColumn("since", _("Since"), lambda row: row.placement.on),
        MoneyColumn("price", _("Price"), lambda row: row.piece.price),
        Column("note", _("Note"), lambda row: row.placement.note),
    )
