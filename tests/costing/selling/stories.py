"""A refund of a part of a sale."""

from costing.selling.actions import RefundFacts, refund_line
from costing.selling.models import Refund, Sale
from tests.making import make_submission, money


def a_refund(sale: Sale) -> Refund:
    """1.00 given back for the first piece of a sale, unless something was before."""
    line = sale.lines.order_by("pk")[0]
    earlier = line.refunds.first()
    return earlier or refund_line(
        line=line, facts=RefundFacts(money(1)), submission=make_submission(on=sale.sold_on)
    )
