"""Writers of sales, returns and refunds, and of pieces that leave without a sale."""

from costing.selling.actions.corrections import SaleCorrection, correct_sale
from costing.selling.actions.disposals import (
    GIVING,
    bring_back_piece,
    give_away,
    scrape_piece,
    write_off_piece,
)
from costing.selling.actions.returns import RefundFacts, ReturnFacts, refund_line, return_line, return_sale
from costing.selling.actions.returns_undone import undo_return
from costing.selling.actions.sales import PieceSold, SaleFacts, sell, sell_together

__all__ = [
    "GIVING",
    "PieceSold",
    "RefundFacts",
    "ReturnFacts",
    "SaleCorrection",
    "SaleFacts",
    "bring_back_piece",
    "correct_sale",
    "give_away",
    "refund_line",
    "return_line",
    "return_sale",
    "scrape_piece",
    "sell",
    "sell_together",
    "undo_return",
    "write_off_piece",
]
