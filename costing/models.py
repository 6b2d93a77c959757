"""The price tag's tables, gathered from its rooms for Django."""

from costing.cost_sheets.models import KeptRates
from costing.pieces.models import Labour, Piece, PiecePour, PieceState, PieceStep
from costing.pricing.models import ChannelTerms, SalesChannel
from costing.selling.models import Refund, Sale, SaleLine

__all__ = [
    "ChannelTerms",
    "KeptRates",
    "Labour",
    "Piece",
    "PiecePour",
    "PieceState",
    "PieceStep",
    "Refund",
    "Sale",
    "SaleLine",
    "SalesChannel",
]
