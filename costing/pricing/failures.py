"""The studio's own rate of failed pours, for an allowance in its ways to a price. It raises no floor and no cost.

It covers failures that no piece pays for yet. A failed pour that was poured over costs the piece on top of it, and one
that was thrown away as a usual failure costs the good pours of its session: both are in the cost of pieces already.
"""

from datetime import date, timedelta

from costing.pricing.methods import FailureAllowance, FailureRate
from costing.pricing.models import PriceRules
from inventory.sessions.models import Pour
from inventory.sessions.queries.failed_pours import shares_of_normal_losses
from studio.values.allocation import MILLION

YEAR = timedelta(days=365)


def failure_rate(rules: PriceRules, on: date) -> FailureRate | None:
    """The rate that prices of a day allow for; None where the studio wants no allowance."""
    if rules.failures == FailureAllowance.NONE:
        return None
    if rules.failures == FailureAllowance.TYPED:
        return FailureRate(rules.failure_share, MILLION, is_counted=False)
    return counted_failures(on)


def counted_failures(on: date) -> FailureRate:
    """Failed pours that no good pour carries, of all that were judged, in sessions of the year up to a day."""
    judged = (
        Pour.objects.standing().poured_here().filter(session__held_on__gt=on - YEAR, session__held_on__lte=on)
    )
    judged = judged.exclude(outcome=Pour.Outcome.OPEN)
    poured_over = Pour.objects.standing().filter(over__isnull=False)
    failed = judged.filter(outcome=Pour.Outcome.FAILED).exclude(pk__in=poured_over.values("over"))
    lost = set(failed.values_list("pk", flat=True))
    carried = {
        pour
        for pour, carriers in shares_of_normal_losses(lost)
        if any(carrier is not None for carrier in carriers)
    }
    return FailureRate(len(lost - carried), judged.count(), is_counted=True)
