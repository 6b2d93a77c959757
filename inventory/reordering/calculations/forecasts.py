"""What will probably be used, for pages and pictures. The level itself never rests on these.

A series has one value a period, those without use as 0. Constants of smoothing are between 0 and 1.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from math import sqrt

from inventory.errors import InventoryError
from inventory.reordering.calculations.demand import Kind, Series, kind_of
from studio.translation import _

SMOOTHING = 0.1
MONTHS = 12
# Two years of monthly use go together by more than chance would have it in one case in twenty (two-sided 5% point of
# the correlation of twelve pairs, from memory of the usual table).
SEASON_AGREES = 0.576
# So many average intervals without use, and the material is dying out (own choice).
INTERVALS_UNTIL_DYING = 3


@dataclass(frozen=True, slots=True)
class SizeAndInterval:
    """Smoothed size of a use, and smoothed periods between uses."""

    size: float
    interval: float
    smoothing: float

    @property
    def croston(self) -> float:
        """Use a period (J. D. Croston, Operational Research Quarterly 23 (1972)): too high on average."""
        return self.size / self.interval

    @property
    def corrected(self) -> float:
        """The same with the Syntetos-Boylan correction, 1 - smoothing/2 (Int. J. Forecasting 21 (2005))."""
        return (1 - self.smoothing / 2) * self.croston


def smoothed(values: Sequence[float], smoothing: float = SMOOTHING) -> float:
    """Simple exponential smoothing that starts from the first value. Raises InventoryError for no values."""
    _refuse_nonsense(values, smoothing)
    level = float(values[0])
    for value in values[1:]:
        level += smoothing * (value - level)
    return level


def size_and_interval(series: Series, smoothing: float = SMOOTHING) -> SizeAndInterval:
    """Both of Croston's smoothings: the first interval counts from the start of the series."""
    starts = [-1, *series.periods]
    intervals = [end - start for start, end in zip(starts, series.periods, strict=False)]
    return SizeAndInterval(smoothed(series.used, smoothing), smoothed(intervals, smoothing), smoothing)


def fading(series: Series, *, size_smoothing: float = SMOOTHING, share_smoothing: float = SMOOTHING) -> float:
    """Use a period that falls with every period without use (Teunter, Syntetos & Babai, EJOR 214 (2011)).

    The share of periods with use starts at 1 or 0, by the first period; the size at the first use.
    """
    happened = [1.0 if value else 0.0 for value in series.values()]
    return smoothed(happened, share_smoothing) * smoothed(series.used, size_smoothing)


def forecast(series: Series) -> float:
    """Use a period from now on, by what suits its kind. Nothing for a series without use."""
    if not series.used:
        return 0.0
    last = series.periods[-1] + 1
    if series.length - last > INTERVALS_UNTIL_DYING * last / len(series.used):
        return fading(series)
    if kind_of(series) in (Kind.SMOOTH, Kind.ERRATIC):
        return smoothed(series.values())
    return size_and_interval(series).corrected


def season(by_month: Mapping[date, int]) -> tuple[float, ...] | None:
    """Twelve factors, January first, by which months differ; None unless two full years of months show the same.

    A month is named by its first day; the last 24 are looked at, and missing ones used nothing. The factors average 1.
    """
    if not by_month:
        return None
    last = max(by_month)
    months = [_months_before(last, back) for back in range(2 * MONTHS)]
    if min(by_month) > months[-1]:
        return None
    years = [[by_month.get(month, 0) for month in sorted(half, key=_month)] for half in _halves(months)]
    if not all(map(sum, years)) or _correlation(*years) < SEASON_AGREES:
        return None
    both = [sum(pair) for pair in zip(*years, strict=True)]
    return tuple(MONTHS * month / sum(both) for month in both)


def _halves(months: Sequence[date]) -> tuple[Sequence[date], Sequence[date]]:
    return months[:MONTHS], months[MONTHS:]


def _month(day: date) -> int:
    return day.month


def _months_before(day: date, back: int) -> date:
    year, month = divmod(day.year * MONTHS + day.month - 1 - back, MONTHS)
    return date(year, month + 1, 1)


def _correlation(first: Sequence[int], second: Sequence[int]) -> float:
    """Pearson's; 0 where one of them never varies."""
    count = len(first)
    means = sum(first) / count, sum(second) / count
    squares = [
        sum((value - mean) ** 2 for value in values)
        for values, mean in ((first, means[0]), (second, means[1]))
    ]
    together = sum((a - means[0]) * (b - means[1]) for a, b in zip(first, second, strict=True))
    return together / sqrt(squares[0] * squares[1]) if all(squares) else 0.0


def _refuse_nonsense(values: Sequence[float], smoothing: float) -> None:
    if not values or not 0 < smoothing <= 1:
        raise InventoryError(
            _("There is nothing to smooth, or the smoothing constant is not between 0 and 1.")
        )
