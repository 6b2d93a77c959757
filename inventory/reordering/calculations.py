"""When to order: use a day, safety stock, reorder level, cover. Quantities in thousandths, time in days.

An estimate of demand is one small value, so another way of forecasting can take this one's place:
everything below the estimate asks only for its daily mean and variance. Ratios stay exact until one
rounding at the end, up.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction
from math import ceil, isqrt
from statistics import NormalDist

from inventory.errors import InventoryError
from studio.translation import _

MILLION = 1_000_000
# Two weeks of a material in the house, days without use included, before its use a day is believed: the average over
# a first day or two takes one session for everyday use (common practice, no source).
LEAST_DAYS_OF_HISTORY = 14


@dataclass(frozen=True, slots=True)
class DatedUse:
    """What left the shelf for work on one day."""

    on: date
    quantity: int


@dataclass(frozen=True, slots=True)
class DemandEstimate:
    """Use a day: mean (thousandths), variance (thousandths squared), days looked at (0: no history)."""

    per_day: Fraction
    daily_variance: Fraction
    days: int

    @property
    def is_long_enough(self) -> bool:
        """Whether enough days were looked at to foretell anything."""
        return self.days >= LEAST_DAYS_OF_HISTORY


@dataclass(frozen=True, slots=True)
class LeadTime:
    """Days from order to delivery: mean and variance (days squared)."""

    days: Fraction
    variance: Fraction = Fraction(0)


NO_HISTORY = DemandEstimate(Fraction(0), Fraction(0), 0)


def average_daily_use(
    uses: Iterable[DatedUse], *, as_of: date, window_days: int, first_receipt: date | None
) -> DemandEstimate:
    """Average dated uses over a window that ends with as_of and starts no earlier than the first receipt.

    Days without use count. The variance is the sample's (n − 1); a single day has none. Leave reversed
    uses out: raises InventoryError for a negative one, or an empty window.
    """
    if window_days <= 0:
        raise InventoryError(_("Look back over at least one day."))
    if first_receipt is None or first_receipt > as_of:
        return NO_HISTORY
    days = min(window_days, (as_of - first_receipt).days + 1)
    used: dict[date, int] = defaultdict(int)
    for use in uses:
        if use.quantity < 0:
            raise InventoryError(_("A use cannot be negative. Leave out uses that were reversed."))
        if 0 <= (as_of - use.on).days < days:
            used[use.on] += use.quantity
    # Whole-number sums give the same exact mean and variance without spelling out the many days of no use.
    total, squares = sum(used.values()), sum(quantity**2 for quantity in used.values())
    spread = Fraction(days * squares - total**2, days * (days - 1)) if days > 1 else Fraction(0)
    return DemandEstimate(Fraction(total, days), spread, days)


def safety_factor(service_level: int) -> Fraction:
    """Return the standard normal quantile of a service level in millionths (950,000 gives 1.6449)."""
    if not MILLION // 2 <= service_level < MILLION:
        raise InventoryError(_("Choose a service level from 50% to just under 100%."))
    return Fraction(NormalDist().inv_cdf(service_level / MILLION))


def safety_stock(factor: Fraction, demand: DemandEstimate, lead_time: LeadTime) -> int:
    """Return factor × √(L·σd² + d²·σL²), from the spread of use over the lead time, rounded up.

    Use and lead time are taken as independent (law of total variance) and use as roughly normal, which
    misleads for things used now and then. Raises InventoryError for a negative factor.
    """
    if factor < 0:
        raise InventoryError(_("A safety factor cannot be negative. Choose a service level of 50% or more."))
    spread = lead_time.days * demand.daily_variance + demand.per_day**2 * lead_time.variance
    return _root_rounded_up(factor**2 * spread)


def reorder_level(per_day: Fraction, lead_time_days: Fraction | int, safety: int) -> int:
    """Return the stock at which to order: use over the lead time plus safety stock, rounded up."""
    return ceil(per_day * lead_time_days) + safety


def whole_things(quantity: int) -> int:
    """Thousandths of counted goods, rounded up to a whole one."""
    return -(-quantity // 1_000) * 1_000


def needs_reorder(stock: int, on_order: int, level: int) -> bool:
    """Tell whether what is held and what is coming have fallen to the reorder level."""
    return stock + on_order <= level


def days_of_cover(stock: int, per_day: Fraction) -> int | None:
    """Return how many whole days the stock lasts, None when nothing is being used."""
    return max(stock, 0) // per_day if per_day > 0 else None


def next_run_out(on: date, stock: int, per_day: Fraction) -> date | None:
    """Return the first day that stock held on the morning of `on` will not cover, None if out of sight."""
    cover = days_of_cover(stock, per_day)
    if cover is None or cover > (date.max - on).days:
        return None
    return on + timedelta(days=cover)


def _root_rounded_up(square: Fraction) -> int:
    """Return the smallest whole number whose square is at least this one, without a float in between."""
    whole = ceil(square)
    return isqrt(whole - 1) + 1 if whole > 0 else 0
