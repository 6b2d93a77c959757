"""Three ways to set a level: ours, the textbook's formula, and a multiple of average use over the lead time."""

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, sqrt
from statistics import NormalDist

from inventory.reordering.calculations import levels
from inventory.reordering.calculations.demand import DAYS_READ, Series
from inventory.reordering.calculations.lead_times import LeadTime


@dataclass(frozen=True, slots=True)
class Known:
    """What is known at the end of a day: use so far, since the books began."""

    series: Series
    a_day: float

    @property
    def daily_variance(self) -> float:
        """The sample's, over the days of the last year."""
        recent = self.series.last(levels.DAYS_OF_RATE)
        squares = levels.sum_of_squares(recent.used)
        days = recent.length
        return (squares - sum(recent.used) ** 2 / days) / (days - 1) if days > 1 else 0.0


class History:
    """Use by day of one material from the day its books began, as it was known on any day."""

    def __init__(self, values: Sequence[int], first_day: int) -> None:
        self.first_day = first_day
        self.whole = Series.of(values[first_day:])

    def at_end_of(self, day: int) -> Known:
        length = day + 1 - self.first_day
        count = bisect_left(self.whole.periods, length)
        series = Series(self.whole.periods[:count], self.whole.used[:count], length)
        recent = series.last(levels.DAYS_OF_RATE)
        return Known(series.last(DAYS_READ), sum(recent.used) / recent.length)


def our_levels(known: Known, lead: LeadTime, targets: Sequence[float]) -> list[int | None]:
    """By marks at past uses."""
    use = levels.use_until_delivery(known.series, lead)
    return [use.level(target) if use else None for target in targets]


def textbook_levels(known: Known, lead: LeadTime, targets: Sequence[float]) -> list[int | None]:
    """Average use over the lead time and a safety stock of normal quantiles, from two weeks of history on."""
    if known.series.length < levels.LEAST_DAYS or not known.a_day:
        return [None] * len(targets)
    return [
        ceil(textbook_level(known.a_day, known.daily_variance, lead.mean, lead.variance, factor))
        for factor in map(NormalDist().inv_cdf, targets)
    ]


def textbook_level(a_day: float, variance: float, days: float, days_variance: float, factor: float) -> float:
    """L·d + factor·√(L·σd² + d²·σL²): the reorder point of textbooks (law of total variance)."""
    return a_day * days + safety_stock(a_day, variance, days, days_variance, factor)


def safety_stock(a_day: float, variance: float, days: float, days_variance: float, factor: float) -> float:
    return factor * sqrt(days * variance + a_day**2 * days_variance)
