"""The price tag's tables, one module a noun."""

from costing.models import names
from costing.models.pieces import Labour, Piece, PiecePour, PieceState, PieceStep
from costing.models.selling import Sale, SellingRoute

__all__ = ["Labour", "Piece", "PiecePour", "PieceState", "PieceStep", "Sale", "SellingRoute"]

names.name_all()
