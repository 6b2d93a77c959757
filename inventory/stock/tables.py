"""Lists of the shelf: materials in stock, of one material its lots, receipts, movements
and figures through time, and stocktakes."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import Any

from django.utils.safestring import SafeString
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from inventory.ledger.models import Entry, Lot, PostingKind
from inventory.ledger.movements import AccountMovement
from inventory.ledger.tables import REVERSED, account_link, lot_column, reversed_badge
from inventory.materials.models import Kind, MeasureChoice
from inventory.materials.tables import material_column
from inventory.reordering.calculations.outlook import Came
from inventory.reordering.outlooks import Outlook
from inventory.stock.counting import ValuedLine, method_in_words
from inventory.stock.queries import HeldLot, MaterialStock
from studio import translation
from studio.pages.addresses import row_address
from studio.pages.beakers import beaker
from studio.pages.columns import (
    FILE,
    Badge,
    Column,
    DayColumn,
    Label,
    MoneyColumn,
    NumberColumn,
    ShortQuantityColumn,
    TenthsColumn,
    UnitCostColumn,
)
from studio.pages.tables import Table
from studio.values.allocation import divide_half_up

VESSELS: dict[str, str] = {MeasureChoice.VOLUME.value: "beaker", MeasureChoice.MASS.value: "tub"}
EXPIRED: Badge = ("stop", _("Expired"))


@dataclass(frozen=True, slots=True)
class StockRow:
    """One material on the shelf. `mark` is where its reorder level stands on the drawn beaker, 0–100; 0 draws none."""

    stock: MaterialStock
    today: date
    mark: int = 0

    @property
    def percent(self) -> int:
        return divide_half_up(self.stock.level, 10_000)

    @property
    def vessel(self) -> str:
        """What it is drawn in: liquids in a beaker, what is weighed in a tub, what is counted as a stack."""
        return VESSELS.get(self.stock.material.measure, "stack")

    @property
    def reserved(self) -> tuple[int, str] | None:
        """What plans reserve of it."""
        return (self.stock.reserved, self.stock.material.measure) if self.stock.reserved else None

    @property
    def available(self) -> tuple[int, str] | None:
        """What is free from today on; said only where plans reserve some, or it is not all that is in stock."""
        available = self.stock.available
        if available is None or (available == self.stock.quantity and not self.stock.reserved):
            return None
        return (available, self.stock.material.measure)

    def drawn(self, text: str) -> SafeString:
        """What is left of it, as it is drawn beside the words."""
        return beaker(
            self.percent,
            text,
            vessel=self.vessel,
            colour=self.stock.material.colour,
            low=self.stock.has_open_alert,
            mark=self.mark,
            size="small",
        )

    @property
    def kind_and_maker(self) -> str:
        material = self.stock.material
        return ", ".join(
            filter(None, [_kind_in_words(material.kind, translation.language()), material.maker])
        )


@lru_cache(64)
def _kind_in_words(kind: str, spoken: str) -> str:
    return str(Kind(kind).label)


def is_empty_colour(stock: MaterialStock) -> bool:
    """A colour mixed here of which nothing is left."""
    return stock.material.kind == Kind.MIX and not stock.quantity


class StockTable(Table[StockRow]):
    caption = _("Materials in stock")
    file_name = "stock"
    css = "is-brief"
    columns = (
        Column(
            "name",
            _("Material"),
            lambda row: row.stock.material.name,
            link=lambda row: row_address("inventory:material", row.stock.material.pk),
            colour=lambda row: row.stock.material.colour,
            note=lambda row: row.kind_and_maker,
        ),
        Column("kind", _("Kind"), lambda row: Kind(row.stock.material.kind).label, only_on=FILE),
        Column("maker", _("Maker"), lambda row: row.stock.material.maker, only_on=FILE),
        ShortQuantityColumn(
            "level",
            _("In stock"),
            lambda row: (row.stock.quantity, row.stock.material.measure),
            drawn=lambda row, text: row.drawn(text),
            css="",
        ),
        DayColumn(
            "use_by",
            _("Use by"),
            lambda row: row.stock.use_by,
            badge=lambda row: EXPIRED if row.stock.use_by and row.stock.use_by < row.today else None,
        ),
        ShortQuantityColumn("reserved", _("Reserved"), lambda row: row.reserved),
        ShortQuantityColumn("available", _("Available"), lambda row: row.available),
        ShortQuantityColumn(
            "on_order",
            _("On order"),
            lambda row: (row.stock.on_order, row.stock.material.measure) if row.stock.on_order else None,
        ),
        DayColumn(
            "lasts_until",
            _("Lasts until"),
            lambda row: row.stock.lasts_until,
            note=lambda row: _("a guess") if row.stock.is_cover_guessed else "",
            css="",  # a date may break: the table is wide
        ),
        DayColumn("order_by", _("Order by"), lambda row: row.stock.order_by, only_on=FILE),
        UnitCostColumn(
            "unit_cost",
            _("Unit cost"),
            lambda row: (row.stock.money, row.stock.quantity, row.stock.material.measure),
            css="number bare is-rate",
        ),
        MoneyColumn("money", _("Value"), lambda row: row.stock.money),
    )

    def row_css(self, row: StockRow) -> str:
        return "is-low" if row.stock.has_open_alert else ""


@dataclass(frozen=True, slots=True)
class LotRow:
    """One lot that holds something."""

    held: HeldLot
    lot: Lot
    measure: str
    today: date


class LotTable(Table[LotRow]):
    caption = _("Lots")
    columns = (
        lot_column(),
        DayColumn("received", _("Received"), lambda row: row.held.received_on),
        DayColumn("opened", _("Opened"), lambda row: row.held.opened_on),
        DayColumn(
            "use_by",
            _("Use by"),
            lambda row: row.held.use_by,
            badge=lambda row: EXPIRED if row.held.use_by and row.held.use_by < row.today else None,
        ),
        Column("place", _("Place"), lambda row: row.lot.place),
        TenthsColumn("quantity", _("In stock"), lambda row: (row.held.quantity, row.measure)),
        MoneyColumn("money", _("Value remaining"), lambda row: row.held.money),
    )


class ReceiptTable(Table[Entry]):
    caption = _("Receipts, newest first")
    columns = (
        DayColumn("day", _("Received"), lambda row: row.posting.effective_on),
        lot_column(),
        TenthsColumn("quantity", _("Quantity"), lambda row: (row.quantity, row.lot.material.measure)),
        MoneyColumn("cost", _("Cost"), lambda row: row.money),
        UnitCostColumn(
            "unit_cost", _("Unit cost"), lambda row: (row.money, row.quantity, row.lot.material.measure)
        ),
    )


class MovementTable(Table[AccountMovement]):
    caption = _("Movements, newest first")
    css = "is-brief"
    columns = (
        DayColumn(
            "day",
            _("Day"),
            lambda row: row.effective_on,
            link=lambda row: row_address("inventory:posting", row.posting.number),
            hidden_words=lambda row: translation._("ledger no. {number}", number=row.posting.number),
        ),
        Column(
            "kind",
            _("What"),
            lambda row: PostingKind(row.posting.kind).label,
            badge=lambda row: REVERSED if row.is_reversed else None,
        ),
        Column("lot", _("Lot"), lambda row: row.account_name, link=lambda row: account_link(row.account)),
        Column(
            "other",
            _("From / to"),
            lambda row: row.counterpart_name,
            link=lambda row: account_link(row.counterpart),
        ),
        TenthsColumn(
            "quantity",
            _("Quantity"),
            lambda row: (row.quantity, row.material.measure) if row.quantity else None,
        ),
        MoneyColumn("money", _("Value"), lambda row: row.money),
    )


class StocktakeTable(Table[Any]):
    """Stocktakes with `lot_count`, `differing` and `money`: what the shelf gained or lost by each."""

    caption = _("Stocktakes")
    file_name = "stocktakes"
    columns = (
        DayColumn(
            "day",
            _("Day"),
            lambda row: row.counted_on,
            link=lambda row: row_address("inventory:stocktake", row.pk),
            hidden_words=lambda row: translation._("stocktake {number}", number=row.pk),
            badge=lambda row: reversed_badge(row.posting),
        ),
        Column("notes", _("Notes"), lambda row: row.notes),
        NumberColumn("lots", _("Lots checked"), lambda row: row.lot_count),
        NumberColumn("differing", _("Lots that differed"), lambda row: row.differing),
        MoneyColumn(
            "money",
            _("Value of differences"),
            lambda row: row.money,
            link=lambda row: row_address("inventory:posting", row.posting_id) if row.posting_id else "",
        ),
    )


def _difference_badge(row: ValuedLine) -> Badge | None:
    if not row.line.difference:
        return None
    return ("low", _("Missing")) if row.line.difference < 0 else ("note", _("Found"))


class StocktakeLineTable(Table[ValuedLine]):
    caption = _("Lots checked, those that differed first")
    file_name = "stocktake"
    columns = (
        material_column(lambda row: row.line.lot.material),
        lot_column(lambda row: row.line.lot),
        Column("how", _("Method"), lambda row: method_in_words(row.line.how)),
        TenthsColumn(
            "expected", _("Expected"), lambda row: (row.line.expected, row.line.lot.material.measure)
        ),
        TenthsColumn("found", _("Found"), lambda row: (row.line.counted, row.line.lot.material.measure)),
        TenthsColumn(
            "difference",
            _("Difference"),
            lambda row: (row.line.difference, row.line.lot.material.measure) if row.line.difference else None,
            badge=_difference_badge,
        ),
        MoneyColumn("money", _("Value"), lambda row: row.money if row.line.difference else None),
    )

    def row_css(self, row: ValuedLine) -> str:
        return "is-low" if row.line.difference else ""


@dataclass(frozen=True, slots=True)
class DayFigures:
    """What a picture of stock shows of one day: what was there, or what should be, and what comes or goes."""

    day: date
    measure: str
    stock: int | None = None
    middle: int | None = None
    low: int | None = None
    high: int | None = None
    event: Label = ""
    amount: int | None = None


def day_figures(outlook: Outlook) -> list[DayFigures]:
    """Everything that the picture of an outlook shows, by day."""
    return sorted(_day_figures(outlook), key=lambda row: (row.day, row.stock is None, str(row.event)))


def _day_figures(outlook: Outlook) -> Iterator[DayFigures]:
    measure = outlook.level.material.measure
    for day, quantity in outlook.past:
        yield DayFigures(day, measure, stock=quantity)
    for each in outlook.ahead:
        yield DayFigures(each.day, measure, middle=each.middle, low=each.low, high=each.high)
    for arrival in outlook.arrivals:
        yield DayFigures(arrival.day, measure, event=_("Order due"), amount=arrival.quantity)
    for taking in outlook.takings:
        yield DayFigures(taking.day, measure, event=taking.plan.name, amount=-taking.quantity)


def _quantity(amount: int | None, measure: str) -> tuple[int, str] | None:
    return None if amount is None else (amount, measure)


class DayFiguresTable(Table[DayFigures]):
    caption = _("Stock by day")
    columns = (
        DayColumn("day", _("Day"), lambda row: row.day),
        ShortQuantityColumn("stock", _("In stock"), lambda row: _quantity(row.stock, row.measure)),
        ShortQuantityColumn("middle", _("Expected"), lambda row: _quantity(row.middle, row.measure)),
        ShortQuantityColumn("low", _("At least"), lambda row: _quantity(row.low, row.measure)),
        ShortQuantityColumn("high", _("At most"), lambda row: _quantity(row.high, row.measure)),
        Column("event", _("Order or plan"), lambda row: row.event),
        ShortQuantityColumn(
            "amount", pgettext_lazy("noun", "Change"), lambda row: _quantity(row.amount, row.measure)
        ),
    )


@dataclass(frozen=True, slots=True)
class DeliveryFigures:
    """A day on which a delivery came, and the measure of what it brought."""

    came: Came
    measure: str


class DeliveryFiguresTable(Table[DeliveryFigures]):
    caption = _("Deliveries of the last year")
    columns = (
        DayColumn("day", _("Received"), lambda row: row.came.day),
        ShortQuantityColumn("quantity", _("Quantity"), lambda row: (row.came.quantity, row.measure)),
        ShortQuantityColumn("before", _("In stock before"), lambda row: (row.came.before, row.measure)),
        Column("in_time", _("In time"), lambda row: _("yes") if row.came.in_time else _("no")),
    )
