"""Writer of the cash count after a market day."""

from costing.markets.calculations import expected_cash
from costing.markets.models import CashCount, MarketDay
from costing.markets.queries import result_of
from inventory.ledger.keyed_records import earlier_row, fingerprint_of
from inventory.ledger.posting import lock
from studio.errors import InputError, refuse_all
from studio.submission import Submission, transaction
from studio.translation import _


def count_cash(
    *, market: MarketDay, counted: int, submission: Submission, paid_out: int = 0, note: str = ""
) -> CashCount:
    """Keep what was in the till beside what should have been. The latest count is the one in force."""
    below_zero = _("Enter zero or more.")
    amounts = {"counted": counted, "paid_out": paid_out}
    refuse_all(InputError(below_zero, field=name) for name, amount in amounts.items() if amount < 0)
    fingerprint = fingerprint_of(["cash count", market, counted, paid_out, note])
    with transaction(submission):
        lock()
        earlier = earlier_row(CashCount, submission, fingerprint)
        if earlier is not None:
            return earlier
        return CashCount.objects.create(
            market_day=market,
            expected=expected_cash(market.till_float, result_of(market).cash_taken, paid_out),
            counted=counted,
            paid_out=paid_out,
            note=note,
            counted_at=submission.at,
            recorded_by=submission.by,
            key=submission.key,
            fingerprint=fingerprint,
        )
