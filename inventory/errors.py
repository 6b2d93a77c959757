"""What can go wrong on the shelf, worded so that the person at the bench knows what to do."""

from calendar import month_name
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from studio.errors import MeniscusError, NeedsConfirmation, Question
from studio.translation import _
from studio.values.quantities import Quantity
from studio.values.units import Measure


class InventoryError(MeniscusError):
    """Raised when something on the shelf cannot be done as asked."""


class UnknownDensity(InventoryError):
    """Raised when mass must become volume, or the other way, of a material (by its key) that has no density."""

    def __init__(self, material: int, name: object) -> None:
        super().__init__(
            _(
                "{name} has no density. Weigh a measured sample of it and enter the density in g/mL.",
                name=name,
            )
        )
        self.material = material


class AlertCleared(InventoryError):
    """Raised when something is to be done about an alert whose cause is gone."""

    is_conflict = True


class LedgerError(InventoryError):
    """Raised when a posting would break a rule of the ledger."""


class ClosedPeriod(LedgerError):
    """Raised when a posting is dated in a period that has been closed."""

    is_conflict = True


class KeyReused(LedgerError):
    """Raised when a request key comes back with different contents."""


class CannotReverse(LedgerError):
    """Raised when a posting cannot be reversed; the text says what stands in the way."""

    is_conflict = True


class BelowZeroOnDay(LedgerError):
    """Raised when a lot would hold less than nothing, or cost without quantity, at the end of a business day."""

    is_conflict = True


@dataclass(frozen=True, slots=True)
class ShelfShortfall:
    """One material the shelf holds too little of; quantities in thousandths of its base unit.

    `later` is what lots hold that came in only after the day in question, the first of them on `later_from`.
    """

    material: int
    name: str
    measure: str
    needed: int
    held: int
    later: int = 0
    later_from: date | None = None

    @property
    def short(self) -> int:
        return self.needed - self.held

    @property
    def in_full(self) -> dict[str, Any]:
        measure = Measure(self.measure)
        amounts = {"needed": self.needed, "held": self.held, "short": self.short}
        return {
            "material": self.material,
            "name": self.name,
            **{name: Quantity(measure, amount) for name, amount in amounts.items()},
        }


class NotEnough(NeedsConfirmation, InventoryError):
    """Raised when more would leave the shelf than the books say it holds.

    `shortfalls` lists every material; what must be confirmed besides is asked at the same time.
    """

    def __init__(
        self, shortfalls: list[ShelfShortfall], described: list[str], questions: Sequence[Question] = ()
    ) -> None:
        super().__init__(
            questions,
            _(
                "Not enough in stock. {shortfalls} Correct the amounts; or, if there was more in the "
                "bottles than recorded, confirm that.",
                shortfalls=" ".join(described),
            ),
        )
        self.shortfalls = shortfalls
        self.described = described

    @property
    def extensions(self) -> Mapping[str, Any]:
        each = zip(self.shortfalls, self.described, strict=True)
        shortfalls = [{**shortfall.in_full, "detail": text} for shortfall, text in each]
        return {"shortfalls": shortfalls, **super().extensions}


def day_in_words(day: date) -> str:
    """A day as sentences name it: "9 June 2025"."""
    # Django's own catalogues know the months by their English names.
    return _("{day} {month} {year}", day=day.day, month=_(month_name[day.month]), year=day.year)
