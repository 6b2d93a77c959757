"""What of a stock is free from a day on, when plans reserve some of it and orders bring more. Pure arithmetic.

Quantities are thousandths of the material's base unit.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

Dated = tuple[date, int]


@dataclass(frozen=True, slots=True)
class StockFigures:
    """One material for a day: usable in stock, reserved by plans, due by the day, and what can be counted on.

    `available` may be taken without leaving any plan short; below zero where plans are short already. `expired` is in
    stock, but will be past its day.
    """

    held: int = 0
    reserved: int = 0
    due: int = 0
    available: int = 0
    expired: int = 0

    @property
    def at_least_nothing(self) -> int:
        """What is available, and nothing where more is promised than there is."""
        return max(self.available, 0)


NOTHING = StockFigures()


@dataclass(frozen=True, slots=True)
class Cover:
    """How long stock lasts at the usual rate of use, and by when to order.

    `is_guess` where the material is too new for a usual rate. `order_by` is None where it is out of sight.
    """

    lasts_until: date
    order_by: date | None
    is_guess: bool


def free_from(day: date, held: int, *, arrivals: Iterable[Dated], reserved: Iterable[Dated]) -> int:
    """What can be taken on a day and never be missed: the least of what is left over, that day or on any later one.

    What is left over on a day is what is held, and has arrived by then, less what is reserved up to then (the
    "available to promise" of production planning, from memory). Below zero when something is promised twice.
    """
    changes = [*arrivals, *((when, -quantity) for when, quantity in reserved)]
    later = sorted({when for when, _change in changes if when > day})
    return min(held + sum(change for when, change in changes if when <= until) for until in (day, *later))
