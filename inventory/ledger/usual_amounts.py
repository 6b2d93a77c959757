"""When an amount is far from what is usual: the rule by which somebody is asked whether it is right.

It looks at the latest amounts of the same kind, by ratios, so that it is the same in every unit. An amount is unusual
when it is more than MUCH_MORE times their median or less than a MUCH_LESS-th of it, and further away still where they
vary: by more than the sixth power of their median deviation, itself a ratio. That lies beyond 5.19 median deviations of
the logarithm, where Iglewicz and Hoaglin (How to Detect and Handle Outliers, 1993) would have an amount looked at (from
memory): a question that is asked too often is no longer read. The two factors are a choice of ours: a slip of the
decimal point is a factor of ten, a batch for one small piece a quarter of a usual one.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

LEAST_PAST = 4  # with fewer amounts than these, nothing is usual yet
MOST_PAST = 20  # how far back to look
MUCH_MORE = 5
MUCH_LESS = 8
MEDIAN_DEVIATIONS = 6

Amount = int | Fraction


@dataclass(frozen=True, slots=True)
class Usual:
    """What is usual: `alike` of the `count` latest amounts lay between `low` and `high`."""

    count: int
    alike: int
    low: Amount
    high: Amount


class PastAmounts:
    """Amounts of one kind, the latest first: what others of that kind are compared with.

    There may be more of them than are looked at. Zeros say nothing and are passed over.
    """

    def __init__(self, past: Iterable[Amount]) -> None:
        self._known = [each for each in past if each > 0][:MOST_PAST]

    def usual_instead(self, amount: Amount) -> Usual | None:
        """What is usual where `amount` is not; None where it is, or where too little is known."""
        if amount <= 0 or len(self._known) < LEAST_PAST:
            return None
        least, most = self._limits
        if least <= amount <= most:
            return None
        alike = [each for each in self._known if least <= each <= most]
        return Usual(len(self._known), len(alike), min(alike), max(alike))

    @cached_property
    def _limits(self) -> tuple[Fraction, Fraction]:
        """The least and the most that is not unusual. Of an even number of amounts the middle two are the median."""
        ordered = sorted(self._known)
        low, high = ordered[(len(ordered) - 1) // 2], ordered[len(ordered) // 2]
        deviations = sorted(
            max(Fraction(each) / Fraction(high), Fraction(low) / Fraction(each), Fraction(1))
            for each in ordered
        )
        spread = deviations[len(deviations) // 2] ** MEDIAN_DEVIATIONS
        return low / max(spread, Fraction(MUCH_LESS)), high * max(spread, Fraction(MUCH_MORE))
