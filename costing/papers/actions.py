"""Keeping what a price list said when it was printed."""

from collections.abc import Sequence
from datetime import date

from costing.papers.models import PrintedList
from costing.pieces.models import Piece
from inventory.ledger.posting import open_ledger
from studio.errors import InputError
from studio.submission import Submission
from studio.translation import _


def keep_list(*, pieces: Sequence[Piece], on: date, place: str, submission: Submission) -> PrintedList:
    """Keep the pieces of a printed list with their prices. Raises InputError for one without any."""
    prices = {str(piece.pk): piece.price for piece in pieces if piece.price is not None}
    with open_ledger(submission, facts=["print", prices, on, place]) as ledger:
        earlier = ledger.earlier_record(PrintedList)
        if earlier is not None:
            return earlier
        if not prices:
            raise InputError(_("There is nothing on this list to keep."), field="on")
        return PrintedList.objects.create(
            on=on,
            place=place,
            printed_at=submission.at,
            prices=prices,
            recorded_by=submission.by,
            key=submission.key,
            fingerprint=ledger.fingerprint,
        )
