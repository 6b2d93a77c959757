"""The list of consignment notes, and the pieces of one."""

from django.utils.translation import gettext_lazy as _

from costing.consignments.queries import LineState, NoteState
from costing.consignments.wording import fate_badge, note_badge, sold_elsewhere
from costing.pieces.tables import piece_column
from studio.pages.addresses import row_address
from studio.pages.columns import Column, DayColumn, MoneyColumn, NumberColumn
from studio.pages.tables import Table


class ConsignmentTable(Table[NoteState]):
    caption = _("Consignment notes")
    file_name = "consignments"
    columns = (
        Column(
            "number",
            _("Number"),
            lambda row: str(row.note.number),
            link=lambda row: row_address("costing:consignment", row.note.pk),
            note=lambda row: row.note.gallery.name,
        ),
        Column("status", _("Status"), lambda row: "", badge=note_badge),
        DayColumn("on", _("Given"), lambda row: row.note.on),
        DayColumn("until", _("Until"), lambda row: row.note.until),
        NumberColumn("pieces", _("Pieces"), lambda row: len(row.lines)),
        MoneyColumn("value", _("Unsold, at asking price"), lambda row: row.value),
    )


class ConsignedPieceTable(Table[LineState]):
    caption = _("Pieces of this note")
    file_name = "consignment"
    columns = (
        piece_column(),
        Column(
            "status",
            _("Status"),
            lambda row: "",
            badge=fate_badge,
            note=lambda row: sold_elsewhere(row, row.line.consignment.gallery.channel_id),
        ),
        DayColumn("left", _("Since"), lambda row: row.left_on or row.line.placement.on),
        MoneyColumn("asked", _("Asking price"), lambda row: row.line.price),
        MoneyColumn("price", _("Sold for"), lambda row: row.sale.price if row.sale else None),
        MoneyColumn("commission", _("Commission"), lambda row: row.sale.commission if row.sale else None),
        MoneyColumn(
            "net",
            _("Net proceeds"),
            lambda row: row.sale.net_proceeds if row.sale else None,
            term="net-proceeds",
        ),
    )
