"""The price tag's tables, gathered from its rooms for Django."""

from costing import model_names
from costing.pieces.models import Labour, Piece, PiecePour, PieceState, PieceStep
from costing.pricing.models import RATE, SalesChannel
from costing.selling.models import Sale

__all__ = ["RATE", "Labour", "Piece", "PiecePour", "PieceState", "PieceStep", "Sale", "SalesChannel"]

model_names.name_all()
