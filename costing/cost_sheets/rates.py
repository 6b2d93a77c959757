"""The hourly rates of work: those of its day, and for a piece that has left those that it left with."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from costing.cost_sheets.models import KeptRates
from studio.preferences.rates import DatedRates
from studio.values.allocation import divide_half_up
from studio.values.dated import Held


class HourlyRates(NamedTuple):
    """What an hour of one day costs, in millionths of the currency unit; None where nothing held."""

    wage: Held | None
    overhead: Held | None

    def cost_of(self, minutes: int) -> tuple[int, int]:
        """Labour and overhead of so many minutes."""
        wage, overhead = (divide_half_up(minutes * held.value, 60) if held else 0 for held in self)
        return wage, overhead


@dataclass(frozen=True, slots=True)
class WorkRates:
    """Rates by piece and day, read in two queries for any number of either."""

    dated: DatedRates
    kept: Mapping[tuple[int, date], HourlyRates]

    @classmethod
    def read(cls, pieces: Iterable[int]) -> "WorkRates":
        rows = KeptRates.objects.filter(piece__in=list(pieces))
        return cls(DatedRates.read(), {(row.piece_id, row.on): _kept(row) for row in rows})

    def on(self, piece: int, day: date) -> HourlyRates:
        if (piece, day) in self.kept:
            return self.kept[piece, day]
        held = self.dated.on(day)
        return HourlyRates(held.wage, held.overhead)


def _kept(row: KeptRates) -> HourlyRates:
    return HourlyRates(
        None if row.wage_per_hour is None else Held(row.wage_per_hour, row.wage_since),
        None if row.overhead_per_hour is None else Held(row.overhead_per_hour, row.overhead_since),
    )
