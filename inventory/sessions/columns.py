"""Kinds of columns of this room's lists: paint per area, sizes, ranges, shares."""

from dataclasses import dataclass
from typing import Any

from studio.pages.columns import Column, NumberColumn, QuantityColumn
from studio.preferences.formatting import Formatter
from studio.translation import _
from studio.values.sizes import Size
from studio.values.units import Measure


@dataclass(frozen=True)
class RateColumn(QuantityColumn[Any]):
    """Paint per area: thousandths of a mL for each cm²."""

    def text(self, value: Any, formatter: Formatter) -> str:
        return f"{formatter.quantity(value, Measure.VOLUME)}/cm²"

    def file_cells(self, value: Any, formatter: Formatter) -> list[Any]:
        return [*super().file_cells((value, Measure.VOLUME), formatter)[:1], "mL/cm²"]


@dataclass(frozen=True)
class SizeColumn(Column[Any]):
    """Sizes of surfaces: "20 × 30 cm"."""

    def text(self, value: Any, formatter: Formatter) -> str:
        return formatter.size(value)


@dataclass(frozen=True)
class GroupColumn(Column[Any]):
    """What pours were grouped by: a name, or a size of surface."""

    def text(self, value: Any, formatter: Formatter) -> str:
        return formatter.size(value) if isinstance(value, Size) else str(value)


@dataclass(frozen=True)
class RangeColumn(QuantityColumn[Any]):
    """From so many thousandths of a mL to so many."""

    def text(self, value: Any, formatter: Formatter) -> str:
        low, high = (formatter.short_quantity(amount, Measure.VOLUME) for amount in value)
        return _("{low} to {high}", low=low, high=high)

    def file_cells(self, value: Any, formatter: Formatter) -> list[Any]:
        return [self.text(value, formatter), None]


@dataclass(frozen=True)
class ShareColumn(NumberColumn[Any]):
    """Shares in millionths: "12%" on the page, in the file too."""

    def text(self, value: Any, formatter: Formatter) -> str:
        return formatter.percent(value)

    def file_cells(self, value: Any, formatter: Formatter) -> list[Any]:
        return [None if value is None else self.text(value, formatter)]


@dataclass(frozen=True)
class SharesColumn(ShareColumn):
    """From one share in millionths to another: "4% to 31%"."""

    def text(self, value: Any, formatter: Formatter) -> str:
        low, high = map(formatter.percent, value)
        return _("{low} to {high}", low=low, high=high)


@dataclass(frozen=True)
class DifferenceColumn(ShareColumn):
    """The same with its sign: "+12%"."""

    def text(self, value: Any, formatter: Formatter) -> str:
        return ("+" if value > 0 else "") + formatter.percent(value)
