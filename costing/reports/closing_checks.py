"""What to have done before a period is closed."""

from dataclasses import dataclass
from datetime import datetime, time, timedelta

from django.urls import reverse
from django.utils import timezone

from costing.reports.queries import YearEnd
from costing.reports.write_downs import proposals
from inventory.plans.models import Plan
from inventory.stock.models import Stocktake
from studio.backups.models import Backup
from studio.translation import _

COUNTED_WITHIN = timedelta(days=31)


@dataclass(frozen=True, slots=True)
class ClosingCheck:
    """One thing to have done, whether it is, and where to do it."""

    label: str
    is_done: bool
    detail: str
    url: str


def closing_checks(found: YearEnd) -> list[ClosingCheck]:
    """Each in a query or two. The books themselves are checked by every backup."""
    last = found.period.last
    counted = Stocktake.objects.filter(
        counted_on__range=(last - COUNTED_WITHIN, last + COUNTED_WITHIN)
    ).exists()
    waiting = len(proposals(found.owned, last))
    plans = Plan.objects.open().filter(planned_on__lte=last).count()
    after = timezone.make_aware(datetime.combine(last + timedelta(days=1), time.min))
    return [
        ClosingCheck(
            _("Count the stock"),
            counted,
            _("A stocktake within a month of the last day."),
            reverse("inventory:stocktakes"),
        ),
        ClosingCheck(
            _("Log what was poured"),
            not plans,
            _("No plan of the period waits for its session."),
            reverse("inventory:plans"),
        ),
        ClosingCheck(
            _("Enter the overhead that was paid"),
            found.profit.overhead is not None,
            _("A year of overhead within the period, with what was paid."),
            reverse("costing:overhead"),
        ),
        ClosingCheck(
            _("Write down what will not bring its cost"),
            not waiting,
            _("Nothing waits to be written down, or up again."),
            f"{reverse('costing:write-downs')}?day={last}",
        ),
        ClosingCheck(
            _("Make a backup"),
            Backup.objects.filter(ok=True, made_at__gte=after).exists(),
            _("A good one since the last day. It checks the books too."),
            reverse("backups"),
        ),
    ]
