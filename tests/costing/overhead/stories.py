"""Years of overhead, and what programs send about them."""

from datetime import date
from typing import Any

from costing.overhead.actions import add_year
from costing.overhead.models import OverheadLine, OverheadYear
from tests.making import make_submission, money

FIRST, LAST = date(2025, 1, 1), date(2025, 12, 31)


def a_year(
    *lines: tuple[str, str, str | None],
    first: date = FIRST,
    last: date = LAST,
    hours: int = 520,
    total: str | None = None,
) -> OverheadYear:
    """The year 2025 with lines of a name, what is estimated and what was paid."""
    rows = [
        OverheadLine(name=name, estimated=money(estimated), paid=None if paid is None else money(paid))
        for name, estimated, paid in lines
    ]
    year = OverheadYear(
        starts_on=first, ends_on=last, hours=hours, paid_in_total=None if total is None else money(total)
    )
    return add_year(year, rows, submission=make_submission())


def bodies_of_overhead() -> dict[str, dict[str, Any]]:
    """Bodies that are accepted, by the address below /api/."""
    year = OverheadYear.objects.all()[0]
    return {
        "overhead/": {
            "starts_on": "2026-01-01",
            "ends_on": "2026-12-31",
            "hours": 520,
            "paid_in_total": None,
            "lines": [{"name": "Rent", "estimated": "1200.00", "paid": "1210.50"}],
        },
        f"overhead/{year.pk}/rate/": {},
    }
