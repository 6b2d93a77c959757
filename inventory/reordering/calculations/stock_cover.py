"""What is low, and how long stock lasts. Quantities in thousandths, time in days."""

from collections.abc import Iterable
from datetime import date, timedelta
from math import floor

from studio.values.allocation import THOUSANDTHS


def whole_things(quantity: int) -> int:
    """Thousandths of counted goods, rounded up to a whole one."""
    return -(-quantity // THOUSANDTHS) * THOUSANDTHS


def days_of_cover(stock: int, per_day: float, going_off: Iterable[tuple[int, int]] = ()) -> int | None:
    """Return how many whole days the stock lasts, None when nothing is being used.

    `going_off` is how many days each lot of it can still be used, and what it holds: those that go off first are used
    first, and what is left of one by then is lost.
    """
    if per_day <= 0:
        return None
    days, dated = 0.0, 0
    for limit, held in sorted(going_off):
        days = min(days + held / per_day, max(days, limit))
        dated += held
    return floor(days + max(stock - dated, 0) / per_day)


def next_run_out(
    on: date, stock: int, per_day: float, going_off: Iterable[tuple[date, int]] = ()
) -> date | None:
    """Return the first day that stock held on the morning of `on` will not cover, None if out of sight."""
    limits = [((use_by - on).days + 1, held) for use_by, held in going_off]
    cover = days_of_cover(stock, per_day, limits)
    if cover is None or cover > (date.max - on).days:
        return None
    return on + timedelta(days=cover)


def order_by(on: date, position: int, level: int | None, per_day: float, *, lead_days: int) -> date | None:
    """Return the day on which what is held and coming falls to the level at this rate: `on` where it has.

    Without a level it is the day from which a usual lead time ends with the last of it. None if out of sight.
    """
    spare = position - (per_day * lead_days if level is None else level)
    return next_run_out(on, floor(spare), per_day)
