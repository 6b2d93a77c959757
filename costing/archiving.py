"""In which units columns of the price tag are kept that do not say so themselves."""

from costing.commissions.models import CommissionPayment
from costing.consignments.models import ConsignmentLine
from costing.cost_sheets.models import KeptRates
from costing.markets.models import CashCount
from costing.pieces.models import Piece
from costing.reports.models import WriteDown
from costing.selling.models import Refund, Sale, SaleLine
from studio.archive.contents import measured


def describe() -> None:
    measured(CommissionPayment, "money", "amount", "fee")
    measured(ConsignmentLine, "money", "price")
    measured(KeptRates, "money", "wage_per_hour", "overhead_per_hour")
    measured(CashCount, "money", "expected", "counted", "paid_out")
    measured(Piece, "money", "market_value", "stated_labour", "stated_overhead")
    measured(WriteDown, "money", "cost", "value", "amount")
    measured(Sale, "share", "tax_rate")
    measured(Sale, "money", "paid_before")
    measured(
        SaleLine, "money", "full_price", "price", "postage", "postage_paid", "tax", "commission", "card_fee",
        "fixed_fee",
    )  # fmt: skip
    measured(Refund, "money", "amount", "tax", "fees")
