"""What a person would write, turned into the whole numbers of the books."""

from datetime import date, datetime, time, timedelta
from decimal import Decimal

from django.utils import timezone


def thousandths(amount: str | int) -> int:
    """Base units (mL, g, each, cm) as thousandths; raises ValueError for what is finer than that."""
    return _scaled(amount, 3)


def millionths(amount: str | int) -> int:
    """Currency units or rates as millionths; raises ValueError for what is finer than that."""
    return _scaled(amount, 6)


def _scaled(amount: str | int, places: int) -> int:
    scaled = Decimal(amount).scaleb(places)
    if scaled != int(scaled):
        raise ValueError(f"{amount} has more than {places} decimal places.")
    return int(scaled)


class Diary:
    """The demo's year: days counted back from the last one, and the evening when each day's work is written down."""

    def __init__(self, today: date, now: datetime) -> None:
        self.today = today
        self.now = now

    def ago(self, days: int) -> date:
        return self.today - timedelta(days=days)

    def evening(self, day: date) -> datetime:
        """When that day's work was entered: its evening, never ahead of now."""
        return min(timezone.make_aware(datetime.combine(day, time(18, 30))), self.now)
