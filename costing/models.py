"""The price tag's tables, gathered from its rooms for Django."""

from costing.commissions.models import Commission, CommissionPayment
from costing.consignments.models import Consignment, ConsignmentLine
from costing.contacts.models import Contact
from costing.cost_sheets.models import KeptRates
from costing.locations.models import Location, Placement, Reservation
from costing.markets.models import CashCount, MarketDay, PackedPiece
from costing.overhead.models import OverheadLine, OverheadYear
from costing.papers.models import PrintedList
from costing.pieces.models import Labour, Piece, PiecePour, PieceState, PieceStep
from costing.pricing.models import ChannelTerms, SalesChannel
from costing.reports.models import WriteDown
from costing.selling.models import Refund, Sale, SaleLine

__all__ = [
    "CashCount",
    "ChannelTerms",
    "Commission",
    "CommissionPayment",
    "Consignment",
    "ConsignmentLine",
    "Contact",
    "KeptRates",
    "Labour",
    "Location",
    "MarketDay",
    "OverheadLine",
    "OverheadYear",
    "PackedPiece",
    "Piece",
    "PiecePour",
    "PieceState",
    "PieceStep",
    "Placement",
    "PrintedList",
    "Refund",
    "Reservation",
    "Sale",
    "SaleLine",
    "SalesChannel",
    "WriteDown",
]
