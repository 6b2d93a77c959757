"""The level at which to order, by the method of mark windows.

Put the order mark at any drop ever used: the rest of that session and all use until the delivery must fit under the
level. A mark falls in a use with odds in proportion to its size, and anywhere inside it alike (renewal theory; Tijms,
A First Course in Stochastic Models, from memory). How such windows are blended with the textbook's moments, and how
much not knowing the rate adds, are our own, justified by the back-test alone (tests/backtest).
"""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate
from math import ceil
from operator import mul

from inventory.reordering.calculations.demand import INTERVAL_CUT, Series
from inventory.reordering.calculations.gamma import share_below, value_below_which
from inventory.reordering.calculations.lead_times import LeadTime

DAYS_SUMMED = 2 * 365
DAYS_OF_RATE = 365
LEAST_DAYS = 14  # of a material in the house before its use makes a level (common practice, no source)
FIRST_GUESS_DAYS = 60  # until then, a level is a first guess
OLD_ENOUGH_TO_SCALE = 90
MOST_SCALING = 3.0
SPREAD_WHEN_FREQUENT, SPREAD_WHEN_RARE = 0.7, 2.0
WINDOWS_FOR_HALF = 10
# The owner's guess weighs as much as a month of data until it is dropped; a session a week (own choice).
GUESS_WEIGHS_DAYS, GUESS_DROPPED_AFTER, GUESSED_DAYS_BETWEEN_USES = 30, 120, 7
# Nine uses in ten are no larger than the largest usual session (own choice).
USUAL_SESSIONS = 0.9


@dataclass(frozen=True, slots=True)
class Spread:
    """A mean and a variance."""

    mean: float
    variance: float


@dataclass(frozen=True, slots=True)
class Windows:
    """What marks put at past uses had to last for, and the share of lead times that had any such window."""

    spread: Spread
    seen: float


@dataclass(frozen=True, slots=True)
class UseUntilDelivery:
    """What has to last from the moment the mark is reached until the delivery, as a gamma distribution.

    `per_day` is the rate of use it rests on, `largest_usual` the largest usual session, `days` those of history,
    `uses` the days with use among those that were summed.
    """

    spread: Spread
    per_day: float
    largest_usual: int
    days: int
    uses: int

    def level(self, service: float) -> int:
        """The stock at which to order so that this share of deliveries comes in time: no less than a usual session."""
        mean, variance = self.spread.mean, self.spread.variance
        if not mean:
            return self.largest_usual
        quantile = value_below_which(service, mean * mean / variance) * variance / mean
        return max(ceil(quantile), self.largest_usual)

    def service(self, level: int) -> float:
        """The share of deliveries that comes in time when the order is placed at this level."""
        mean, variance = self.spread.mean, self.spread.variance
        return share_below(level * mean / variance, mean * mean / variance) if mean else 1.0


@dataclass(frozen=True, slots=True)
class PastUse:
    """What the use of a material says: of what has to last until a delivery, or how little is known.

    `days` are those of history; `is_recent` tells whether anything was used in the last of its years.
    """

    until_delivery: UseUntilDelivery | None
    days: int
    is_recent: bool


def past_use(series: Series, lead: LeadTime, *, guess_per_day: float | None = None) -> PastUse:
    """What a series says, with the lead time and the guess that it is read for."""
    return PastUse(
        use_until_delivery(series, lead, guess_per_day=guess_per_day),
        series.length,
        bool(series.last(DAYS_OF_RATE).used),
    )


def use_until_delivery(
    series: Series, lead: LeadTime, *, guess_per_day: float | None = None
) -> UseUntilDelivery | None:
    """What has to last until a delivery; None where nothing was used for a year, or too little is known.

    A guess stands in while a material is new, and fades as data come in.
    """
    recent = series.last(DAYS_OF_RATE)
    guess = guess_per_day if series.length < GUESS_DROPPED_AFTER and guess_per_day else None
    if guess is None and (series.length < LEAST_DAYS or not recent.used):
        return None
    summed, weight = series.last(DAYS_SUMMED), GUESS_WEIGHS_DAYS if guess else 0
    rate = (sum(recent.used) + (guess or 0) * weight) / (recent.length + weight)
    if rate <= 0:
        return None
    session = session_size(summed, GUESSED_DAYS_BETWEEN_USES * (guess or 0))
    windows = mark_windows(series, lead, rate)
    textbook = textbook_spread(summed, lead, rate, session)
    blended = blend(windows, textbook, share=share_of_windows(summed, lead, windows.seen))
    sessions = (summed.length + weight) * rate / (spread_of_uses(summed) * session)
    uncertainty = blended.mean**2 / max(1.0, sessions)
    return UseUntilDelivery(
        Spread(blended.mean, blended.variance + uncertainty),
        rate,
        largest_usual_use(summed),
        series.length,
        len(summed.used),
    )


def session_size(summed: Series, guessed: float = 0.0) -> float:
    """The session that a mark falls in, by size, with four sessions half as large again as the mean beside it.

    `summed` here and below are the days that are summed: the last two years.
    """
    used = summed.used
    if not used:
        return 1.5 * guessed
    total, squares = sum(used), sum_of_squares(used)
    return (len(used) * squares / total + 4 * 1.5 * total / len(used)) / (len(used) + 4)


def mark_windows(series: Series, lead: LeadTime, rate: float) -> Windows:
    """Mean and variance of what a mark at each past use had to last for, weighed by the size of the use.

    Windows are scaled from the rate of their own day to today's, once the material is old enough to have a rate.
    """
    days, length = series.periods, series.length
    first = bisect_left(days, length - DAYS_SUMMED)
    prefix = list(accumulate(series.values(), initial=0))
    days, used = days[first:], series.used[first:]
    scales = _scales(days, prefix, rate)
    before = [prefix[day + 1] for day in days]
    squares = list(map(mul, used, used))
    totals = list(accumulate(used, initial=0))
    halves = list(accumulate(squares, initial=0))
    thirds = list(accumulate(map(mul, squares, used), initial=0))
    mean = square = seen = 0.0
    for taken, share in lead.points:
        usable = bisect_right(days, length - 1 - taken)
        if not usable:
            continue
        after = [
            scale * (prefix[day + taken + 1] - base)
            for day, scale, base in zip(days[:usable], scales, before, strict=False)
        ]
        weighed = list(map(mul, used, after))
        weight = share / totals[usable]
        mean += weight * (halves[usable] / 2 + sum(weighed))
        square += weight * (thirds[usable] / 3 + sum(map(mul, used, weighed)) + sum(map(mul, weighed, after)))
        seen += share
    if not seen:
        return Windows(Spread(0.0, 0.0), 0.0)
    return Windows(Spread(mean / seen, square / seen - (mean / seen) ** 2), seen)


def textbook_spread(summed: Series, lead: LeadTime, rate: float, session: float) -> Spread:
    """Half a session and the use of a mean lead time, with a margin: for materials that have few uses so far.

    Undershoot as in Silver, Pyke & Thomas, Inventory and Production Management in Supply Chains (from memory).
    """
    rate *= 1.15
    return Spread(
        session / 2 + rate * lead.mean,
        spread_of_uses(summed) * rate * lead.mean * session + rate**2 * lead.variance + session**2 / 8,
    )


def share_of_windows(summed: Series, lead: LeadTime, seen: float) -> float:
    """How far the windows are believed: by how many there are that do not overlap, and how evenly they weigh."""
    if seen < 0.5 or not summed.used:
        return 0.0
    total, squares = sum(summed.used), sum_of_squares(summed.used)
    windows = max(1.0, min(total * total / squares, summed.length / (lead.mean + 1)))
    return windows / (windows + WINDOWS_FOR_HALF)


def blend(windows: Windows, textbook: Spread, *, share: float) -> Spread:
    seen = windows.spread
    return Spread(
        share * seen.mean + (1 - share) * textbook.mean,
        share * seen.variance + (1 - share) * textbook.variance,
    )


def sum_of_squares(used: Sequence[int]) -> int:
    return sum([quantity * quantity for quantity in used])


def largest_usual_use(summed: Series) -> int:
    """The largest use of a day but for the one in ten that are larger still."""
    used = sorted(summed.used)
    return used[ceil(USUAL_SESSIONS * len(used)) - 1] if used else 0


def spread_of_uses(summed: Series) -> float:
    """How much more, or less, uses spread than those that come by chance alone."""
    is_frequent = summed.used and summed.length / len(summed.used) < INTERVAL_CUT
    return SPREAD_WHEN_FREQUENT if is_frequent else SPREAD_WHEN_RARE


def _scales(days: Sequence[int], prefix: Sequence[int], rate: float) -> list[float]:
    """For each day today's rate over that of the year to its end, within reason; 1 while the material was young."""
    young = bisect_left(days, OLD_ENOUGH_TO_SCALE - 1)
    within_a_year = bisect_left(days, DAYS_OF_RATE - 1)
    ratios = [rate * (day + 1) / prefix[day + 1] for day in days[young:within_a_year]]
    a_year = rate * DAYS_OF_RATE
    ratios += [
        a_year / (prefix[day + 1] - prefix[day + 1 - DAYS_OF_RATE])
        for day in days[max(young, within_a_year) :]
    ]
    least, most = 1 / MOST_SCALING, MOST_SCALING
    return [1.0] * young + [least if ratio < least else most if ratio > most else ratio for ratio in ratios]
