"""What was in stock, what probably will be, and whether deliveries came in time: figures for pictures.

Quantities are thousandths of the base unit. The level itself rests on none of these.
"""

from bisect import bisect_left
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from inventory.reordering.calculations.demand import WEEK, Series
from inventory.reordering.calculations.forecasts import MONTHS
from inventory.reordering.calculations.gamma import value_below_which
from inventory.reordering.calculations.levels import DAYS_SUMMED, Spread, session_size, spread_of_uses

Change = tuple[date, int]
# Eight times in ten, stock should stay between these two (own choice).
LOW, HIGH = 0.1, 0.9
# A month that uses a quarter more than the average is worth naming (own choice).
BUSY_MONTH = 1.25


@dataclass(frozen=True, slots=True)
class Expected:
    """What should be in stock at the end of a day: in the middle, and what it stays between eight times in ten."""

    day: date
    low: int
    middle: int
    high: int


@dataclass(frozen=True, slots=True)
class Came:
    """A day on which a delivery came, how much, and what was in stock at the end of the day before."""

    day: date
    quantity: int
    before: int

    @property
    def in_time(self) -> bool:
        return self.before > 0


def stock_by_day(changes: Sequence[Change], stock: int, *, since: date, on: date) -> list[Change]:
    """Stock at the end of `since`, of each later day on which it changed, and of `on`: counted back from `stock` now.

    Changes are by day, oldest first.
    """
    points: list[Change] = []
    for day, change in reversed(changes):
        if day <= since:
            break
        if day <= on:
            points.append((day, stock))
        stock -= change
    points.append((since, stock))
    if points[0][0] < on:
        points.insert(0, (on, points[0][1]))
    return points[::-1]


def use_over(summed: Series, rate: float, days: int) -> Spread:
    """Use of so many days: sessions that come by chance, and a rate that is not known for sure.

    `summed` are the last two years of use at most.
    """
    mean, session = rate * days, session_size(summed)
    if not mean or not session:
        return Spread(0.0, 0.0)
    chance = spread_of_uses(summed) * session
    sessions = max(1.0, summed.length * rate / chance)
    return Spread(mean, chance * mean + mean**2 / sessions)


def expected_stock(
    series: Series, rate: float, stock: int, *, on: date, days: int, changes: Collection[Change] = ()
) -> list[Expected]:
    """What should be in stock each week from the end of `on`, and around each day on which something comes or goes.

    `changes` are arrivals and, below zero, what plans take.
    """
    summed = series.last(DAYS_SUMMED)
    last = on + timedelta(days=days)
    turning = {day - timedelta(days=before) for day, _change in changes for before in (0, 1)}
    weekly = {on + timedelta(days=number) for number in range(0, days, WEEK)}
    return [
        _expected(use_over(summed, rate, (day - on).days), day, stock + sum(_until(day, changes)))
        for day in sorted({*weekly, last, *turning})
        if on <= day <= last
    ]


def deliveries(came: Mapping[date, int], changes: Sequence[Change], stock: int) -> list[Came]:
    """Each day on which a delivery came, with what was in stock before; the first that ever came is none of them."""
    totals, days = [], [day for day, _change in changes]
    for _day, change in reversed(changes):
        totals.append(stock)
        stock -= change
    ends = [stock, *reversed(totals)]  # of the day before the first change, and of each day with one
    return [Came(day, came[day], ends[bisect_left(days, day)]) for day in sorted(came)]


def by_week(uses: Iterable[Change], *, on: date, weeks: int) -> list[Change]:
    """What was used in each of the last so many weeks from Monday on, that of `on` included; by their first days."""
    monday = on - timedelta(days=on.weekday())
    totals = {monday - timedelta(days=WEEK * back): 0 for back in reversed(range(weeks))}
    for day, used in uses:
        first = day - timedelta(days=day.weekday())
        if first in totals and day <= on:
            totals[first] += used
    return [(first, max(used, 0)) for first, used in totals.items()]


def by_month(uses: Iterable[Change], *, on: date, since: date) -> dict[date, int]:
    """What was used in each whole month from the one after `since` to the one before `on`, by their first days."""
    first, last = since.year * MONTHS + since.month, on.year * MONTHS + on.month - 2
    totals = {date(month // MONTHS, month % MONTHS + 1, 1): 0 for month in range(first, last + 1)}
    for day, used in uses:
        month = day.replace(day=1)
        if month in totals:
            totals[month] += used
    return {month: max(used, 0) for month, used in totals.items()}


def busy_months(factors: Sequence[float] | None) -> list[int]:
    """The months, 1 to 12, that a season makes busy."""
    return [number for number, factor in enumerate(factors or (), start=1) if factor >= BUSY_MONTH]


def _until(day: date, changes: Collection[Change]) -> list[int]:
    return [change for when, change in changes if when <= day]


def _expected(use: Spread, day: date, stock: int) -> Expected:
    if not use.mean:
        return Expected(day, max(stock, 0), max(stock, 0), max(stock, 0))
    shape, scale = use.mean**2 / use.variance, use.variance / use.mean
    low, high = (max(stock - round(value_below_which(share, shape) * scale), 0) for share in (HIGH, LOW))
    return Expected(day, low, min(max(stock - round(use.mean), low), high), high)
