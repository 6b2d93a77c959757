"""The price tag's tables, gathered from its rooms for Django."""

from costing.pieces.models import Labour, Piece, PiecePour, PieceState, PieceStep
from costing.pricing.models import SalesChannel
from costing.selling.models import Sale

__all__ = ["Labour", "Piece", "PiecePour", "PieceState", "PieceStep", "Sale", "SalesChannel"]
