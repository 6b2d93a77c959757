"""Writers for how the books are kept: the cost flow, and the day through which they are closed."""

from datetime import date

from inventory.errors import ClosedPeriod, LedgerError, day_in_words
from inventory.ledger.models import Books, CostingMethod
from inventory.ledger.posting import open_ledger
from studio.auditing.edit_conflicts import refuse_stale
from studio.submission import Submission
from studio.translation import _


def choose_costing_method(*, costing_method: str, submission: Submission, seen: int | None = None) -> Books:
    """Choose how cost follows use: one way throughout, as IAS 2 asks.

    Raises LedgerError once anything has been posted, EditConflict.
    """
    with open_ledger(submission) as ledger:
        books = ledger.books
        refuse_stale(books, seen=seen, fields=["costing_method"])
        if costing_method not in CostingMethod.values:
            raise LedgerError(_("Choose one of the costing methods."))
        if costing_method != books.costing_method and books.last_number:
            raise LedgerError(
                _(
                    "The costing method must be chosen before the first posting. Yours stays “{method}”.",
                    method=books.get_costing_method_display(),
                )
            )
        books.costing_method = costing_method
        books.costing_method_chosen_at = books.costing_method_chosen_at or submission.at
        books.save(update_fields=["costing_method", "costing_method_chosen_at"])
        return books


def close_through(*, day: date, submission: Submission, seen: int | None = None) -> Books:
    """Close the books through a day: nothing may be posted on or before it any more.

    Raises what refuse_closing raises, with the submission's day as today; EditConflict.
    """
    with open_ledger(submission) as ledger:
        books = ledger.books
        refuse_stale(books, seen=seen, fields=["closed_through"])
        refuse_closing(books, day=day, today=submission.on)
        if day != books.closed_through:
            books.closed_through = day
            books.save(update_fields=["closed_through"])
        return books


def refuse_closing(books: Books, *, day: date, today: date) -> None:
    """Raise ClosedPeriod when closing through a day would reopen a closed period, or close a day that is not over."""
    closed = books.closed_through
    if closed is not None and day < closed:
        raise ClosedPeriod(
            _(
                "The period up to {day} is already closed, and a closed period stays closed.",
                day=day_in_words(closed),
            )
        )
    if day >= today:
        raise ClosedPeriod(_("Choose a closing date in the past, so that today can still be posted."))


def refuse_closed(*days: date | None) -> None:
    """Raise ClosedPeriod when one of these days lies in a closed period; None stands for the beginning.

    For figures of a period that no posting holds, such as what a market day cost: a closed one stays as it was told.
    """
    closed = Books.objects.values_list("closed_through", flat=True).first()
    if closed is not None and any((day or date.min) <= closed for day in days):
        raise ClosedPeriod(_("The period up to {day} is closed. Use a later date.", day=day_in_words(closed)))


def anything_posted() -> bool:
    """Whether the ledger has begun: from then on the studio's currency and the costing method stay."""
    return Books.objects.filter(last_number__gt=0).exists()
