"""The list of pieces, and the prices of one."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, ClassVar

from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from costing.cost_sheets.lines import CostSummary
from costing.locations.models import Placement
from costing.locations.queries import LENT, STUDIO
from costing.locations.wording import place_name
from costing.pieces.models import Piece, PieceState
from costing.pricing.queries import ChannelPrices, SizePrice
from studio.auditing.queries import FieldChange
from studio.pages.addresses import row_address
from studio.pages.columns import (
    FILE,
    Column,
    DayColumn,
    MomentColumn,
    MoneyColumn,
    ShortQuantityColumn,
    UnitCostColumn,
)
from studio.pages.tables import Table
from studio.values.units import Measure


def piece_column(key: str = "title", **extras: Any) -> Column[Any]:
    """The piece of a row, which leads to its page."""
    return Column(
        key,
        _("Piece"),
        lambda row: row.piece.title,
        link=lambda row: row_address("costing:piece", row.piece.pk),
        note=lambda row: row.piece.label,
        **extras,
    )


def piece_state_column(**extras: Any) -> Column[Any]:
    return Column(
        "state",
        _("Status"),
        lambda row: "",
        badge=lambda row: (row.piece.badge_kind, PieceState(row.piece.state).label),
        **extras,
    )


@dataclass(frozen=True, slots=True)
class PieceRow:
    """One piece of the gallery."""

    piece: Piece
    size: str
    cost: CostSummary | None
    place: str = ""
    is_away: bool = False  # from the studio


class PieceTable(Table[PieceRow]):
    caption = _("Pieces")
    file_name = "pieces"
    columns = (
        Column("number", _("Piece number"), lambda row: row.piece.label, only_on=FILE),
        piece_column(css="is-broad"),
        piece_state_column(css="bare", note=lambda row: row.place if row.is_away else ""),
        Column("place", _("Location"), lambda row: row.place, only_on=FILE),
        Column("series", _("Series"), lambda row: row.piece.place_in_series, only_on=FILE),
        Column("edition", _("Edition"), lambda row: row.piece.edition, only_on=FILE),
        Column(
            "size",
            _("Size, H × W"),
            lambda row: row.size,
            note=lambda row: row.piece.set_in_words,
            css="bare",
        ),
        Column("technique", _("Technique"), lambda row: row.piece.technique, css="bare"),
        DayColumn("made", _("Made"), lambda row: row.piece.made_on),
        MoneyColumn("price", _("Price"), lambda row: row.piece.price),
        MoneyColumn("cost", _("Cost"), lambda row: row.cost.whole if row.cost else None),
        UnitCostColumn(
            "per_area",
            _("Unit cost"),
            lambda row: (row.cost.whole, row.cost.area, Measure.AREA) if row.cost else None,
            css="number bare",
        ),
    )


class LowestPriceTable(Table[ChannelPrices]):
    """What to ask through each channel."""

    caption = _("Prices that cover the cost, and prices with markup")
    columns: ClassVar[Sequence[Column[Any]]] = (
        Column(
            "channel", _("Sales channel"), lambda row: row.channel.name, template="pieces/channel_terms.html"
        ),
        MoneyColumn("floor", _("Lowest price"), lambda row: row.floor, term="lowest-price"),
        MoneyColumn("wanted", _("With markup"), lambda row: row.wanted),
        MoneyColumn("whole", _("Rounded up"), lambda row: row.wanted_whole),
        MoneyColumn("fives", _("Rounded up to the next 5"), lambda row: row.wanted_fives),
    )


def _to_take(column: Column[ChannelPrices]) -> Column[ChannelPrices]:
    """The same, each price a link that fills in the asking price."""
    if not isinstance(column, MoneyColumn):
        return column
    return replace(
        column,
        link=lambda row: f"?ask={column.value(row)}#price-form",
        hidden_words=lambda row: _("as asking price"),
    )


class PriceToTakeTable(LowestPriceTable):
    """The same for those who may set the price."""

    columns = tuple(map(_to_take, LowestPriceTable.columns))


class ProceedsTable(Table[ChannelPrices]):
    """What the asking price would bring through each channel."""

    caption = _("Net proceeds through each sales channel")
    columns = (
        Column(
            "channel",
            _("Sales channel"),
            lambda row: row.channel.name,
            badge=lambda row: ("low", _("Below cost")) if row.profit < 0 else None,
        ),
        MoneyColumn("tax", _("Tax included"), lambda row: row.proceeds.vat),
        MoneyColumn("commission", _("Commission"), lambda row: row.proceeds.commission or None),
        MoneyColumn("card_fee", _("Card fee"), lambda row: row.proceeds.card_fee or None),
        MoneyColumn("fixed_fee", _("Fixed fee"), lambda row: row.proceeds.fixed_fee or None),
        MoneyColumn("net", _("Net proceeds"), lambda row: row.proceeds.net, term="net-proceeds"),
        MoneyColumn("profit", _("Profit"), lambda row: row.profit),
    )

    def money_css(self, row: ChannelPrices) -> str:
        return "is-low" if row.profit is not None and row.profit < 0 else ""


class SimilarPieceTable(Table[SizePrice]):
    caption = _("Finished pieces of the same technique, smallest first")
    columns = (
        Column(
            "title",
            _("Piece"),
            lambda row: row.title,
            link=lambda row: "" if row.is_this else row_address("costing:piece", row.piece_id),
            note=lambda row: _("this piece") if row.is_this else "",
        ),
        ShortQuantityColumn("area", _("Area"), lambda row: (row.area, Measure.AREA)),
        MoneyColumn("price", _("Price"), lambda row: row.price),
        UnitCostColumn("per_area", _("Price by area"), lambda row: (row.price, row.area, Measure.AREA)),
    )


class PriceChangeTable(Table[FieldChange]):
    """What was asked for a piece over time."""

    caption = _("Asking prices so far")
    columns = (
        MomentColumn("at", _("Changed"), lambda row: row.at),
        Column("by", _("By"), lambda row: row.by.get_username() if row.by else ""),
        MoneyColumn("old", _("Before"), lambda row: row.old),
        MoneyColumn("new", pgettext_lazy("figure", "After"), lambda row: row.new),
    )


class PlacementTable(Table[Placement]):
    """Where one piece has been, the latest first."""

    caption = _("Where it has been")
    columns = (
        Column("place", _("Location"), lambda row: place_name(LENT if row.is_lent else STUDIO, row.location)),
        DayColumn("on", _("Since"), lambda row: row.on),
        Column("note", _("Note"), lambda row: row.note),
        Column("by", _("By"), lambda row: row.recorded_by),
    )
