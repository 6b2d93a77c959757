"""Years of overhead: the rate that their estimates make, and what the work of the time absorbed.

Absorbed is worked out as on cost sheets: the minutes of each session, and of each work on a piece since, at the
overhead rate of their day, whether their pours became pieces or not. A piece that has left keeps on its own sheet the
rates that it left with; here its minutes follow rates that are entered later for their days.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from costing.cost_sheets.rates import HourlyRates
from costing.errors import CostingError
from costing.overhead.calculations import Absorption, overhead_rate
from costing.overhead.models import OverheadLine, OverheadYear
from costing.pieces.models import Labour
from costing.pieces.queries import standing_pieces
from inventory.sessions.models import Session
from studio.preferences.models import Studio
from studio.preferences.rates import DatedRates
from studio.values.money import minor_unit


@dataclass(frozen=True, slots=True)
class Worked:
    """Minutes of one day's work, and the overhead that they were charged with; None where no rate held."""

    on: date
    minutes: int
    overhead: int | None


@dataclass(frozen=True, slots=True)
class YearFigures:
    """A year of overhead worked out. `rate` is None while nothing is estimated, `paid` until all of it is known.

    `minutes` were worked, `unrated` of them on days without a rate.
    """

    year: OverheadYear
    lines: tuple[OverheadLine, ...]
    rate: int | None
    minutes: int
    unrated: int
    absorbed: int

    @property
    def estimated(self) -> int:
        return sum(line.estimated for line in self.lines)

    @property
    def paid(self) -> int | None:
        if self.year.paid_in_total is not None:
            return self.year.paid_in_total
        amounts = [line.paid for line in self.lines if line.paid is not None]
        return sum(amounts) if amounts and len(amounts) == len(self.lines) else None

    @property
    def absorption(self) -> Absorption | None:
        return None if self.paid is None else Absorption(self.paid, self.absorbed)


def year_figures(years: Sequence[OverheadYear]) -> list[YearFigures]:
    """Each year worked out, in the same few queries however many there are. Reads `year.lines`: prefetch them."""
    if not years:
        return []
    worked = work_between(min(year.starts_on for year in years), max(year.ends_on for year in years))
    coin = minor_unit(Studio.current().currency)
    return [_figures(year, worked, coin) for year in years]


def work_between(first: date, last: date) -> list[Worked]:
    """All work of these days, in three queries: sessions that stand, and what was worked on their pieces since."""
    rates = DatedRates.read()
    sessions = Session.objects.standing().filter(held_on__range=(first, last), minutes__gt=0)
    labour = Labour.objects.filter(on__range=(first, last), piece__in=standing_pieces())
    worked = [*sessions.values_list("held_on", "minutes"), *labour.values_list("on", "minutes")]
    return [_worked(rates, on, minutes) for on, minutes in worked]


def rate_of(year: OverheadYear) -> int:
    """The hourly rate that a year's estimates make. Raises CostingError, saying what to enter, where they make none."""
    estimated = sum(line.estimated for line in year.lines.all())
    return overhead_rate(estimated, year.hours, minor_unit=minor_unit(Studio.current().currency))


def _worked(rates: DatedRates, on: date, minutes: int) -> Worked:
    held = rates.on(on).overhead
    return Worked(on, minutes, HourlyRates(None, held).cost_of(minutes)[1] if held else None)


def _figures(year: OverheadYear, worked: Sequence[Worked], coin: int) -> YearFigures:
    lines = tuple(year.lines.all())
    within = [each for each in worked if year.starts_on <= each.on <= year.ends_on]
    try:
        rate = overhead_rate(sum(line.estimated for line in lines), year.hours, minor_unit=coin)
    except CostingError:
        rate = None
    return YearFigures(
        year=year,
        lines=lines,
        rate=rate,
        minutes=sum(each.minutes for each in within),
        unrated=sum(each.minutes for each in within if each.overhead is None),
        absorbed=sum(each.overhead or 0 for each in within),
    )
