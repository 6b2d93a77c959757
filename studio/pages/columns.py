"""Kinds of columns of a declared list: each words its values for the page, and writes them plainly for a file."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import KW_ONLY, dataclass
from datetime import date
from decimal import Decimal
from typing import Any, Generic, TypeVar

from django.utils import timezone
from django.utils.functional import Promise
from django.utils.safestring import SafeString
from django.utils.translation import gettext_lazy

from studio.pages.addresses import row_address
from studio.pages.exports import Cell, money_cell
from studio.preferences.formatting import Formatter
from studio.translation import _
from studio.values.allocation import divide_half_up
from studio.values.money import SCALE_PLACES, rounding_left_over, share_to_minor
from studio.values.units import Measure

Row = TypeVar("Row")
Label = str | Promise
Badge = tuple[str, Label]  # a kind of parts/badge.html, and its word
PAGE, FILE = "page", "file"
EDIT = gettext_lazy("Edit")


@dataclass(frozen=True)
class Column(Generic[Row]):
    """One column of text, sorted by where the list's SortFilter has its key.

    A value of None or "" leaves the cell empty, on the page and in the file.
    """

    key: str
    label: Label
    value: Callable[[Row], Any]
    _: KW_ONLY
    link: Callable[[Row], str] | None = None
    badge: Callable[[Row], Badge | None] | None = None
    colour: Callable[[Row], str] | None = None  # "#1f5f6b", as a square before the value
    note: Callable[[Row], Any] | None = None  # quiet words after the value
    hidden_words: Callable[[Row], Any] | None = None  # what a screen reader adds to the link
    template: str = ""  # words a full cell on the page; reads `row` and `text`
    drawn: Callable[[Row, str], SafeString] | None = None  # the same, written in Python for long lists
    css: str = ""
    term: str = ""  # a word of the glossary: its heading has a question mark that leads there
    needs_money: bool = False  # only for those who see money
    owner_only: bool = False
    only_on: str = ""  # PAGE or FILE; empty for both

    def text(self, value: Any, formatter: Formatter) -> str:
        return str(value)

    def file_cells(self, value: Any, formatter: Formatter) -> list[Cell]:
        return [value if value is None or isinstance(value, str | int | Decimal) else str(value)]

    def file_labels(self, formatter: Formatter) -> list[str]:
        return [str(self.label)]


def edit_column(view_name: str, *, name: Callable[[Any], Any], label: Label = EDIT) -> Column[Any]:
    """The owner's link to a row's form."""
    return Column(
        "edit",
        gettext_lazy("Change"),
        lambda row: label,
        link=lambda row: row_address(view_name, row.pk),
        owner_only=True,
        hidden_words=name,
        css="act",
    )


@dataclass(frozen=True)
class NumberColumn(Column[Row]):
    """Whole numbers."""

    css: str = "number"


@dataclass(frozen=True)
class HoursColumn(Column[Row]):
    """Seconds as hours: "12.5" on the page, to the hundredth in the file."""

    css: str = "number"

    def text(self, value: Any, formatter: Formatter) -> str:
        return formatter.hours(value)

    def file_cells(self, value: Any, formatter: Formatter) -> list[Cell]:
        return [None if value is None else Decimal(divide_half_up(value, 36)) / 100]


@dataclass(frozen=True)
class DayColumn(Column[Row]):
    """Days: "12 Mar 2026" on the page, 2026-03-12 in the file."""

    css: str = "day"

    def text(self, value: Any, formatter: Formatter) -> str:
        return formatter.day(value)

    def file_cells(self, value: Any, formatter: Formatter) -> list[Cell]:
        return [value]


@dataclass(frozen=True)
class FirstDayColumn(DayColumn[Row]):
    """The first day of what holds from then on, or words where it has held from the beginning."""

    def text(self, value: Any, formatter: Formatter) -> str:
        return formatter.day(value) if isinstance(value, date) else str(value)

    def file_cells(self, value: Any, formatter: Formatter) -> list[Cell]:
        return [value if isinstance(value, date) else str(value)]


@dataclass(frozen=True)
class MomentColumn(Column[Row]):
    """Days with the time: "12 Mar 2026, 09:30" on the page, 2026-03-12 09:30 in the file."""

    def text(self, value: Any, formatter: Formatter) -> str:
        return formatter.moment(value)

    def file_cells(self, value: Any, formatter: Formatter) -> list[Cell]:
        return [value and timezone.localtime(value).replace(tzinfo=None)]


@dataclass(frozen=True)
class MoneyColumn(Column[Row]):
    """Millionths of the studio's currency."""

    css: str = "number"
    needs_money: bool = True

    def text(self, value: Any, formatter: Formatter) -> str:
        return formatter.money(value)

    def file_cells(self, value: Any, formatter: Formatter) -> list[Cell]:
        return [money_cell(value, formatter.currency)]

    def adding_up(self, values: Sequence[int | None], formatter: Formatter) -> list[int | None]:
        """Amounts rounded so that as printed they add up to their printed total (largest remainder)."""
        rounded = iter(share_to_minor([value for value in values if value is not None], formatter.currency))
        return [None if value is None else next(rounded) for value in values]

    def rounding(self, values: Iterable[int | None], total: int, formatter: Formatter) -> int:
        """By how much the printed total differs from the sum of the amounts as printed."""
        return rounding_left_over((value or 0 for value in values), total, formatter.currency)

    def file_labels(self, formatter: Formatter) -> list[str]:
        return [f"{self.label} ({formatter.currency})"]


@dataclass(frozen=True)
class PercentColumn(Column[Row]):
    """Shares in millionths: "35%"; in the file the number of per cent."""

    css: str = "number"
    needs_money: bool = True

    def text(self, value: Any, formatter: Formatter) -> str:
        return formatter.percent(value)

    def file_cells(self, value: Any, formatter: Formatter) -> list[Cell]:
        return [None if value is None else Decimal(value) / 10_000]

    def file_labels(self, formatter: Formatter) -> list[str]:
        return [f"{self.label} (%)"]


@dataclass(frozen=True)
class QuantityColumn(Column[Row]):
    """Pairs of (thousandths of the base unit, measure); the file keeps number and unit apart."""

    css: str = "number"

    def text(self, value: Any, formatter: Formatter) -> str:
        return formatter.quantity(*value)

    def file_cells(self, value: Any, formatter: Formatter) -> list[Cell]:
        if value is None:
            return [None, None]
        amount, measure = value
        return [Decimal(amount) / 1000, Measure(measure).base_unit.sign]

    def file_labels(self, formatter: Formatter) -> list[str]:
        return [str(self.label), _("{figure}, unit", figure=self.label)]


@dataclass(frozen=True)
class ShortQuantityColumn(QuantityColumn[Row]):
    """The same, rounded on the page for reading at arm's length."""

    def text(self, value: Any, formatter: Formatter) -> str:
        return formatter.short_quantity(*value)


@dataclass(frozen=True)
class TenthsColumn(QuantityColumn[Row]):
    """The same, to a tenth on the page: nobody weighs thousandths. The ledger's own pages stay exact."""

    def text(self, value: Any, formatter: Formatter) -> str:
        return formatter.tenths(*value)


@dataclass(frozen=True)
class UnitCostColumn(Column[Row]):
    """Triples of (millionths of money, thousandths of the base unit, measure): "£2.13 per 100 mL".

    The file keeps number and unit apart.
    """

    css: str = "number"
    needs_money: bool = True

    def text(self, value: Any, formatter: Formatter) -> str:
        return formatter.unit_cost(*value)

    def file_cells(self, value: Any, formatter: Formatter) -> list[Cell]:
        if value is None or value[1] <= 0:
            return [None, None]
        money, amount, measure = value
        return [
            Decimal(divide_half_up(money * 1000, amount)).scaleb(-SCALE_PLACES),
            Measure(measure).base_unit.sign,
        ]

    def file_labels(self, formatter: Formatter) -> list[str]:
        return [f"{self.label} ({formatter.currency})", _("{figure}, unit", figure=self.label)]
