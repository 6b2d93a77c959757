"""What a market day came to, and how many pieces it takes to break even.

Money is millionths of the currency unit, shares are millionths, time is minutes. Figures for deciding, not tax or
legal advice.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor

from studio.values.allocation import MILLION, THOUSANDTHS, divide_half_up

MINUTES = 60  # in an hour


def travel_by_distance(distance: int, rate: int) -> int:
    """Return the cost of a distance in thousandths of a kilometre or mile at a rate for a whole one."""
    return divide_half_up(distance * rate, THOUSANDTHS)


def wage_of(minutes: int, wage_per_hour: int) -> int:
    """Return what the time worked costs at an hourly rate."""
    return divide_half_up(minutes * wage_per_hour, MINUTES)


def expected_cash(till_float: int, cash_takings: int, paid_out: int) -> int:
    """Return what should be in the till: the float and the cash takings, less what was paid out of it."""
    return till_float + cash_takings - paid_out


@dataclass(frozen=True, slots=True)
class MarketResult:
    """What a market day brought and cost. `takings` are gross, by cash and card; `cost` is that of the pieces sold.

    `ahead` is what of the takings was paid for commissions that are not sold yet, less what was paid earlier for those
    sold on the day: takings, and no sales.
    """

    cash: int
    card: int
    tax: int
    fees: int
    cost: int
    pitch: int
    travel: int
    wages: int
    minutes: int
    sold: int
    ahead: int = 0

    @property
    def takings(self) -> int:
        return self.cash + self.card

    @property
    def sales(self) -> int:
        """What the pieces sold were paid with, on that day or before."""
        return self.takings - self.ahead

    @property
    def paid_earlier(self) -> int:
        return max(-self.ahead, 0)

    @property
    def net_proceeds(self) -> int:
        return self.sales - self.tax - self.fees

    @property
    def contribution(self) -> int:
        """What the pieces sold left towards the costs of the day."""
        return self.net_proceeds - self.cost

    @property
    def fixed(self) -> int:
        """What the day cost, however much was sold."""
        return self.pitch + self.travel + self.wages

    @property
    def profit(self) -> int:
        return self.contribution - self.fixed

    @property
    def per_hour(self) -> int | None:
        """What an hour of the day earned: all but the wage, over the hours. None without hours."""
        earned = self.contribution - self.pitch - self.travel
        return divide_half_up(earned * MINUTES, self.minutes) if self.minutes else None

    @property
    def break_even_takings(self) -> int | None:
        """The sales at which the day would have come to zero, its mix of pieces staying as it was."""
        return break_even_sales(self.fixed, self.sales, self.contribution)

    @property
    def safety(self) -> int | None:
        """By how much sales could have fallen before the day made a loss; below zero: by how much they fell short."""
        sales = self.break_even_takings
        return None if sales is None else self.sales - sales

    @property
    def safety_share(self) -> int | None:
        """The same as a share of the sales."""
        return None if self.safety is None else divide_half_up(self.safety * MILLION, self.sales)


@dataclass(frozen=True, slots=True)
class KindSold:
    """Pieces of one kind that a market day sold: how many, and what they left together."""

    name: str
    count: int
    takings: int
    contribution: int

    @property
    def margin(self) -> int:
        """The contribution margin of one of them, on average."""
        return divide_half_up(self.contribution, self.count)

    def alone(self, fixed: int) -> int | None:
        """How many of this kind, and nothing else, would have covered the day. None: no number would."""
        return break_even_units(fixed, Fraction(self.contribution, self.count))


def break_even_units(fixed: int, margin: Fraction | int) -> int | None:
    """Return how many units of a contribution margin cover the fixed costs, in whole units. None: no number does."""
    if margin <= 0:
        return None
    return ceil(fixed / Fraction(margin))


def break_even_sales(fixed: int, sales: int, contribution: int) -> int | None:
    """Return the sales that cover the fixed costs: fixed ÷ (contribution ÷ sales). None: no sales do."""
    if contribution <= 0 or sales <= 0:
        return None
    return divide_half_up(fixed * sales, contribution)


def break_even_mix(fixed: int, kinds: Sequence[KindSold]) -> list[int] | None:
    """Return how many of each kind cover the fixed costs when they sell in the proportion in which they did.

    In whole pieces, and never fewer than cover: up where a kind brings something, down where it loses. None: no number
    of them does.
    """
    contribution = sum(kind.contribution for kind in kinds)
    if contribution <= 0:
        return None
    exact = [Fraction(fixed * kind.count, contribution) for kind in kinds]
    return [
        ceil(count) if kind.contribution >= 0 else floor(count)
        for kind, count in zip(kinds, exact, strict=True)
    ]
