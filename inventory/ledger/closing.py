"""Writers for how the books are kept: the cost flow, and the day through which they are closed."""

from datetime import date

from inventory.errors import ClosedPeriod, LedgerError, day_in_words
from inventory.ledger.models import Books, CostingMethod
from inventory.ledger.posting import open_ledger
from studio.submission import Submission
from studio.translation import _


def choose_costing_method(*, costing_method: str, submission: Submission) -> Books:
    """Choose how cost follows use: one way throughout, as IAS 2 asks.

    Raises LedgerError once anything has been posted.
    """
    with open_ledger(submission) as ledger:
        books = ledger.books
        if costing_method not in CostingMethod.values:
            raise LedgerError(_("Choose first in, first out, or weighted average."))
        if costing_method == books.costing_method:
            return books
        if books.last_number:
            raise LedgerError(_why_it_stays(books.costing_method))
        books.costing_method = costing_method
        books.save(update_fields=["costing_method"])
        return books


def _why_it_stays(costing_method: str) -> str:
    if costing_method == CostingMethod.AVERAGE:
        return _(
            "The costing method must be chosen before the first posting. Yours stays “weighted average”."
        )
    return _(
        "The costing method must be chosen before the first posting. Yours stays “first in, first "
        "out, lot by lot”."
    )


def close_through(*, day: date, submission: Submission) -> Books:
    """Close the books through a day: nothing may be posted on or before it any more.

    Raises ClosedPeriod when that would reopen a closed period, or close a day that is not over on the submission's.
    """
    with open_ledger(submission) as ledger:
        books = ledger.books
        closed = books.closed_through
        if closed is not None and day < closed:
            raise ClosedPeriod(
                _(
                    "The period up to {day} is already closed, and a closed period stays closed.",
                    day=day_in_words(closed),
                )
            )
        if day >= submission.on:
            raise ClosedPeriod(_("Choose a closing date in the past, so that today can still be posted."))
        if day != closed:
            books.closed_through = day
            books.save(update_fields=["closed_through"])
        return books
