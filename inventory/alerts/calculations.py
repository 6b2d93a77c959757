"""When a price has jumped, and on which days email goes out. Pure arithmetic."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction
from statistics import median

from studio.values.allocation import MILLION

# The usual price is the middle one of the last few deliveries before the latest (our own choice, no source): one odd
# purchase does not move it, and a new price that stays has become the usual one after three deliveries.
USUAL_OF = 5
LEAST_EARLIER = 2


@dataclass(frozen=True, slots=True)
class Paid:
    """So much money (millionths) for so much quantity (thousandths)."""

    money: int
    quantity: int

    @property
    def per_unit(self) -> Fraction:
        """Millionths for one whole base unit."""
        return Fraction(self.money * 1000, self.quantity)


@dataclass(frozen=True, slots=True)
class PriceJump:
    """The latest and the usual price of one base unit (millionths), and the rise over the usual (millionths)."""

    latest: int
    usual: int
    rise: int


def price_jump(paid: Sequence[Paid], *, threshold: int) -> PriceJump | None:
    """Whether the last price paid lies more than a share (millionths) above the usual; `paid` is oldest first.

    None with fewer than two deliveries before the latest: there is no usual price yet. What cost nothing is no price.
    """
    prices = [each.per_unit for each in paid if each.money > 0 and each.quantity > 0]
    if len(prices) <= LEAST_EARLIER:
        return None
    *earlier, latest = prices
    usual = Fraction(median(earlier[-USUAL_OF:]))
    rise = (latest / usual - 1) * MILLION
    if rise <= threshold:
        return None
    return PriceJump(round(latest), round(usual), round(rise))


def is_quiet(day: date, quiet_days: Collection[int]) -> bool:
    """Whether no email goes out on a day, by its ISO number: Monday is 1, Sunday 7."""
    return day.isoweekday() in quiet_days


def next_mailing_day(after: date, quiet_days: Collection[int]) -> date:
    """The first day after this one on which email goes out. Seven quiet days leave none; then it is the next day."""
    days = [after + timedelta(days=ahead) for ahead in range(1, 8)]
    return next((day for day in days if not is_quiet(day, quiet_days)), days[0])
