"""Use by day and by week, and what kind of use it is."""

from bisect import bisect_left
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from itertools import groupby
from operator import itemgetter

from inventory.errors import InventoryError
from studio.translation import _

# Two years are summed, and for each of their days the rate of the year before it is needed.
DAYS_READ = 3 * 365
WEEK = 7
# Syntetos, Boylan & Croston, "On the categorization of demand patterns", JORS 56 (2005): the average interval between
# periods with demand, and the squared coefficient of variation of their sizes.
INTERVAL_CUT, VARIATION_CUT = 1.32, 0.49


class Kind(StrEnum):
    """The four published kinds of demand, and none at all."""

    SMOOTH = "smooth"
    INTERMITTENT = "intermittent"
    ERRATIC = "erratic"
    LUMPY = "lumpy"
    NONE = "none"


@dataclass(frozen=True, slots=True)
class Series:
    """Use by period: the numbers of the periods with use, rising from 0; what each used; how many periods there are.

    Raises InventoryError for a use that is not above zero, or that lies outside.
    """

    periods: Sequence[int]
    used: Sequence[int]
    length: int

    def __post_init__(self) -> None:
        if self.used and min(self.used) <= 0:
            raise InventoryError(_("A use must be above zero. Leave out uses that were reversed."))
        if self.periods and not 0 <= self.periods[0] <= self.periods[-1] < self.length:
            raise InventoryError(_("A use lies outside the days looked at."))

    @classmethod
    def of(cls, values: Iterable[int]) -> "Series":
        """The series of a list of all its periods, those without use as 0."""
        values = list(values)
        used = [(number, value) for number, value in enumerate(values) if value]
        return cls([number for number, _value in used], [value for _number, value in used], len(values))

    def values(self) -> list[int]:
        """Every period, those without use as 0."""
        values = [0] * self.length
        for period, used in zip(self.periods, self.used, strict=True):
            values[period] = used
        return values

    def last(self, periods: int) -> "Series":
        """Its last periods; all of it where it is shorter."""
        if periods >= self.length:
            return self
        start = self.length - periods
        first = bisect_left(self.periods, start)
        kept = [period - start for period in self.periods[first:]]
        return Series(kept, self.used[first:], self.length - start)

    def by_week(self) -> "Series":
        """Days summed to weeks that end with the last day; days before the first full week are left out."""
        days = self.last(self.length // WEEK * WEEK)
        weeks = groupby(
            zip(days.periods, days.used, strict=True), key=lambda period_use: period_use[0] // WEEK
        )
        totals = {week: sum(map(itemgetter(1), uses)) for week, uses in weeks}
        return Series(list(totals), list(totals.values()), days.length // WEEK)


NO_HISTORY = Series((), (), 0)


def daily_series(
    uses: Mapping[date, int], *, on: date, first: date | None, out_of_stock: Collection[date] = ()
) -> Series:
    """Use by day from the first receipt, three years at most, to the end of `on`.

    A day on which there was nothing to use from morning to night is no day without demand: it is left out, and the
    days on both sides of it follow each other (own choice).
    """
    if first is None or first > on:
        return NO_HISTORY
    start = max(first.toordinal(), on.toordinal() - DAYS_READ + 1)
    end = on.toordinal()
    gone = sorted(
        day.toordinal() for day in out_of_stock if start <= day.toordinal() <= end and uses.get(day, 0) <= 0
    )
    days = sorted((day.toordinal(), used) for day, used in uses.items() if used > 0)
    kept = [(day, used) for day, used in days if start <= day <= end]
    return Series(
        [day - start - bisect_left(gone, day) for day, _used in kept],
        [used for _day, used in kept],
        end - start + 1 - len(gone),
    )


def average_interval(series: Series) -> float:
    """Periods for each period with use: n / k (the paper's ADI, in the form that counts leading zeros)."""
    return series.length / len(series.used)


def squared_variation(series: Series) -> float:
    """Variance over squared mean of what the periods with use used (population variance)."""
    count, total = len(series.used), sum(series.used)
    return count * sum(used * used for used in series.used) / (total * total) - 1


def kind_of(series: Series) -> Kind:
    """Which of the four kinds of demand it is."""
    if not series.used:
        return Kind.NONE
    is_frequent = average_interval(series) < INTERVAL_CUT
    if squared_variation(series) < VARIATION_CUT:
        return Kind.SMOOTH if is_frequent else Kind.INTERMITTENT
    return Kind.ERRATIC if is_frequent else Kind.LUMPY
