"""The day the tests' stories are told on. Time is always an argument, so nothing here looks at a clock."""

from datetime import UTC, date, datetime, timedelta

AT = datetime(2025, 6, 10, 14, 30, tzinfo=UTC)
TODAY = AT.date()
DAY = timedelta(days=1)


def june(day: int) -> date:
    """A day of June 2025."""
    return date(2025, 6, day)
