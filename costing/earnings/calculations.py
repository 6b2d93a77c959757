"""What an hour of work earned, stock turn, and how long pieces take to sell. Pure: no database in sight."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from studio.values.allocation import divide_half_up

SECONDS = 3600  # in an hour
FEWEST_SOLD = 4  # with fewer, the slowest quarter of them says nothing (own choice)


def per_hour(earned: int, seconds: int) -> int | None:
    """What an hour earned, in millionths of the currency unit; None where no time was worked."""
    return divide_half_up(earned * SECONDS, seconds) if seconds > 0 else None


@dataclass(frozen=True, slots=True)
class Hourly:
    """Profit beside the time worked for it. The profit is left after the wage, so `with_wage` adds that back."""

    profit: int
    labour: int
    seconds: int

    @property
    def minutes(self) -> int:
        return divide_half_up(self.seconds, 60)

    @property
    def profit_per_hour(self) -> int | None:
        return per_hour(self.profit, self.seconds)

    @property
    def with_wage(self) -> int | None:
        """What an hour earned before the wage is taken off."""
        return per_hour(self.profit + self.labour, self.seconds)


@dataclass(frozen=True, slots=True)
class StockTurn:
    """How often unsold work was sold over a number of days; costs in millionths of the currency unit.

    Turn = cost of sales / average stock, the average of the opening and the closing one; days in stock = days / turn
    (OpenStax, Principles of Accounting, volume 1, section 10.5).
    """

    cost_of_sales: int
    opening: int
    closing: int
    days: int

    @property
    def turn(self) -> Fraction | None:
        """None where there was no stock at either end."""
        average = Fraction(self.opening + self.closing, 2)
        return self.cost_of_sales / average if average > 0 else None

    @property
    def days_in_stock(self) -> int | None:
        """How many days a piece stays on average, to the whole day; None where nothing was sold."""
        turn = self.turn
        if not turn:
            return None
        days = self.days / turn
        return divide_half_up(days.numerator, days.denominator)


def slow_after(days_to_sell: Sequence[int]) -> int | None:
    """The days within which three quarters of pieces were sold: the nearest-rank quantile. None for too few."""
    if len(days_to_sell) < FEWEST_SOLD:
        return None
    return sorted(days_to_sell)[ceil(Fraction(3 * len(days_to_sell), 4)) - 1]
