"""What an hour of work costs, and the tax inside prices: by the day of the work or the sale."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from studio.preferences.models import Rates
from studio.values.dated import Held, held_on


@dataclass(frozen=True, slots=True)
class RatesOn:
    """What held on one day: per hour in millionths of the currency unit, tax in millionths; None where nothing did."""

    wage: Held | None
    overhead: Held | None
    tax: Held | None

    @property
    def tax_rate(self) -> int:
        return self.tax.value if self.tax else 0


@dataclass(frozen=True, slots=True)
class DatedRates:
    """Every entry of the studio's rates, read once for any number of days."""

    entries: Sequence[Rates]

    @classmethod
    def read(cls) -> "DatedRates":
        return cls(list(Rates.objects.all()))

    def on(self, day: date) -> RatesOn:
        return RatesOn(
            *(self._held(column, day) for column in ("wage_per_hour", "overhead_per_hour", "tax_rate"))
        )

    def _held(self, column: str, day: date) -> Held | None:
        return held_on(day, ((entry.holds_from, getattr(entry, column)) for entry in self.entries))
