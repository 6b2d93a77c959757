"""Writers of years of overhead, and of the hourly rate that one of them makes."""

from collections.abc import Sequence

from costing.errors import CostingError
from costing.overhead.models import OverheadLine, OverheadYear
from costing.overhead.queries import rate_of
from studio.auditing.reference_rows import save_row
from studio.constraints import LARGEST
from studio.preferences.models import Rates
from studio.submission import Submission, transaction
from studio.translation import _


def add_year(
    year: OverheadYear, lines: Sequence[OverheadLine], *, submission: Submission | None
) -> OverheadYear:
    """Add a year of overhead with its lines, all or none. Raises InputError naming the column."""
    with transaction(submission):
        save_row(year, submission=submission)
        for line in lines:
            line.year = year
            save_row(line, submission=submission)
    return year


def take_over_rate(year: OverheadYear, *, submission: Submission) -> Rates:
    """Let the rate that a year's estimates make hold from its first day on. Done again it changes nothing.

    Raises CostingError where the estimates make no rate.
    """
    with transaction(submission):
        now = OverheadYear.objects.select_for_update().get(pk=year.pk)
        rate = rate_of(now)
        if rate > LARGEST:
            raise CostingError(_("That rate is too large. Check the estimates and the hours."))
        row = Rates.objects.filter(holds_from=now.starts_on).first() or Rates(holds_from=now.starts_on)
        row.overhead_per_hour = rate
        return save_row(row, submission=submission)
