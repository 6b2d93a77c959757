"""What the rooms of the shelf bring to the ledger room beneath them: called once, when the app starts."""

from inventory.ledger import book_checks, reversal_guards
from inventory.ledger.models import PostingKind
from inventory.ledger.stock_changes import stock_changed
from inventory.purchasing.book_checks import check_deliveries
from inventory.reordering.actions import refresh_changed
from inventory.sessions.queries.pours import poured_over
from studio.translation import noop

# Which document stands beside which kind of posting, and what is told when it does not.
DOCUMENTS = (
    ("delivery", PostingKind.DELIVERY, noop("its delivery is missing")),
    ("session", PostingKind.SESSION, noop("its session is missing")),
    ("mixes", PostingKind.MIX, noop("its mix is missing")),
    ("stocktake", PostingKind.STOCKTAKE, noop("its stocktake is missing")),
)


def register_with_ledger() -> None:
    """Alerts follow the stock, sessions guard their postings, and documents are checked with the books."""
    stock_changed.connect(refresh_changed)
    reversal_guards.register(poured_over)
    book_checks.register(check_deliveries)
    for document, kind, missing in DOCUMENTS:
        book_checks.register(book_checks.every_posting_has_its(document, kind, missing=missing))
