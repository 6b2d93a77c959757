"""A refund of a part of a sale, and a sale that can be corrected."""

from costing.pieces.calculations import State
from costing.selling.actions import RefundFacts, ReturnFacts, refund_line, return_line, sell
from costing.selling.models import Refund, Sale, SaleLine
from tests.costing.stories import LATER, a_piece
from tests.making import make_submission, money
from tests.small_studio import SmallStudio


def a_refund(sale: Sale) -> Refund:
    """1.00 given back for the first piece of a sale, unless something was before."""
    line = sale.lines.order_by("pk")[0]
    earlier = line.refunds.first()
    return earlier or refund_line(
        line=line, facts=RefundFacts(money(1)), submission=make_submission(on=sale.sold_on)
    )


def a_correctable_sale(studio: SmallStudio) -> Sale:
    """A sale of another piece, for as much as the studio's own, of which nothing was given back."""
    earlier = Sale.objects.filter(lines__piece__title="Mistyped", corrected_by=None).first()
    if earlier is not None:
        return earlier
    piece = a_piece(title="Mistyped", state=State.FOR_SALE)
    submission = make_submission(on=LATER)
    return sell(piece=piece, channel=studio.channel, price=money("83.29"), submission=submission)


def a_returned_line(studio: SmallStudio) -> SaleLine:
    """A line of a sale whose piece came back by mistake."""
    piece = a_piece(title="Brought back", state=State.FOR_SALE)
    sale = sell(
        piece=piece, channel=studio.channel, price=money("83.29"), submission=make_submission(on=LATER)
    )
    return return_line(line=sale.lines.get(), facts=ReturnFacts(), submission=make_submission(on=LATER))
