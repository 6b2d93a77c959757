"""Rows of the gallery: pieces with their size, technique and cost."""

from collections.abc import Iterable

from costing.cost_sheets.lines import CostSummary
from costing.cost_sheets.queries import cost_summaries
from costing.papers.queries import sizes_in_cm, techniques
from costing.pieces.models import Piece
from costing.pieces.tables import PieceRow
from inventory.sessions.models import Pour
from studio.preferences.formatting import Formatter


def piece_rows(pieces: Iterable[Piece], formatter: Formatter, *, with_cost: bool) -> list[PieceRow]:
    """What the gallery says of each piece, in the same few queries however many there are."""
    found = list(pieces)
    costs = cost_summaries(found) if with_cost else {}
    return [_shown(piece, formatter, costs.get(piece.pk)) for piece in found]


def _shown(piece: Piece, formatter: Formatter, cost: CostSummary | None) -> PieceRow:
    pours: Iterable[Pour] = [part.pour for part in piece.parts.all()]
    return PieceRow(
        piece,
        sizes_in_cm(pours, decimal_comma=formatter.decimal_comma),
        techniques(pours),
        all(pour.surface.is_round for pour in pours),
        cost,
    )
