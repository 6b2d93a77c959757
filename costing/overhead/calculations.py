"""Overhead taken into cost by an hourly rate, and what the rate took in too little or too much. Pure.

Money is millionths of the currency unit. The rate is set before the year, from what it is expected to bring: estimated
overhead ÷ estimated hours (the predetermined overhead rate of OpenStax, Principles of Accounting, Volume 2: Managerial
Accounting, chapter 4). Not tax or legal advice.
"""

from dataclasses import dataclass

from costing.errors import CostingError
from studio.translation import _
from studio.values.allocation import divide_half_up


def overhead_rate(estimated: int, hours: int, *, minor_unit: int) -> int:
    """Return estimated overhead ÷ estimated hours, rounded half up to the minor unit.

    Raises CostingError, saying what to enter, where there is nothing to share or nobody to carry it.
    """
    if estimated <= 0:
        raise CostingError(_("Enter at least one line of overhead with an estimate first."))
    if hours <= 0:
        raise CostingError(_("Enter the hours that you expect to work, above zero."))
    return divide_half_up(estimated, hours * minor_unit) * minor_unit


@dataclass(frozen=True, slots=True)
class Absorption:
    """Overhead that was paid, and what the work of the same time absorbed of it."""

    paid: int
    absorbed: int

    @property
    def difference(self) -> int:
        """Paid less absorbed: above zero under-absorbed, below it over-absorbed."""
        return self.paid - self.absorbed

    @property
    def amount(self) -> int:
        return abs(self.difference)

    @property
    def is_under(self) -> bool:
        return self.difference > 0

    @property
    def is_over(self) -> bool:
        return self.difference < 0
