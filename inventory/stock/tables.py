"""Lists of the shelf: materials in stock, and of one material its lots, receipts and movements."""

from dataclasses import dataclass
from datetime import date

from django.urls import reverse
from django.utils.translation import gettext_lazy

from inventory.ledger.models import Lot
from inventory.ledger.queries import Movement, Receipt
from inventory.stock.queries import HeldLot, MaterialStock
from studio.pages.columns import (
    FILE,
    Badge,
    Column,
    DayColumn,
    MoneyColumn,
    QuantityColumn,
    ShortQuantityColumn,
    UnitCostColumn,
)
from studio.pages.tables import Table
from studio.translation import _
from studio.values.allocation import divide_half_up

EXPIRED: Badge = ("stop", gettext_lazy("Expired"))
REVERSED: Badge = ("note", gettext_lazy("Reversed"))


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
    def kind_and_maker(self) -> str:
        material = self.stock.material
        return ", ".join(filter(None, [str(material.get_kind_display()), material.maker]))


class StockTable(Table[StockRow]):
    caption = gettext_lazy("Materials in stock")
    file_name = "stock"
    default_sort = "name"
    columns = (
        Column[StockRow](
            key="name",
            label=gettext_lazy("Material"),
            value=lambda row: row.stock.material.name,
            link=lambda row: reverse("inventory:material", args=[row.stock.material.pk]),
            note=lambda row: row.kind_and_maker,
        ),
        Column[StockRow](
            key="kind",
            label=gettext_lazy("Kind"),
            value=lambda row: row.stock.material.get_kind_display(),
            only_on=FILE,
        ),
        Column[StockRow](
            key="maker", label=gettext_lazy("Maker"), value=lambda row: row.stock.material.maker, only_on=FILE
        ),
        ShortQuantityColumn[StockRow](
            key="level",
            label=gettext_lazy("In stock"),
            value=lambda row: (row.stock.quantity, row.stock.material.measure),
            template="stock/level.html",
            css="",
        ),
        DayColumn[StockRow](
            key="use_by",
            label=gettext_lazy("Use by"),
            value=lambda row: row.stock.use_by,
            badge=lambda row: EXPIRED if row.stock.use_by and row.stock.use_by < row.today else None,
        ),
        ShortQuantityColumn[StockRow](
            key="on_order",
            label=gettext_lazy("On order"),
            value=lambda row: (
                (row.stock.on_order, row.stock.material.measure) if row.stock.on_order else None
            ),
        ),
        UnitCostColumn[StockRow](
            key="unit_cost",
            label=gettext_lazy("Unit cost"),
            value=lambda row: (row.stock.money, row.stock.quantity, row.stock.material.measure),
        ),
        MoneyColumn[StockRow](key="money", label=gettext_lazy("Value"), value=lambda row: row.stock.money),
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
    caption = gettext_lazy("Lots")
    columns = (
        Column[LotRow](
            key="lot",
            label=gettext_lazy("Lot"),
            value=lambda row: row.lot.label,
            link=lambda row: reverse("inventory:lot", args=[row.lot.pk]),
        ),
        DayColumn[LotRow](
            key="received", label=gettext_lazy("Received"), value=lambda row: row.held.received_on
        ),
        DayColumn[LotRow](key="opened", label=gettext_lazy("Opened"), value=lambda row: row.held.opened_on),
        DayColumn[LotRow](
            key="use_by",
            label=gettext_lazy("Use by"),
            value=lambda row: row.held.use_by,
            badge=lambda row: EXPIRED if row.held.use_by and row.held.use_by < row.today else None,
        ),
        Column[LotRow](key="place", label=gettext_lazy("Place"), value=lambda row: row.lot.place),
        QuantityColumn[LotRow](
            key="quantity", label=gettext_lazy("In stock"), value=lambda row: (row.held.quantity, row.measure)
        ),
        MoneyColumn[LotRow](
            key="money", label=gettext_lazy("Value remaining"), value=lambda row: row.held.money
        ),
    )


class ReceiptTable(Table[Receipt]):
    caption = gettext_lazy("Receipts, newest first")
    columns = (
        DayColumn[Receipt](key="day", label=gettext_lazy("Received"), value=lambda row: row.on),
        Column[Receipt](
            key="lot",
            label=gettext_lazy("Lot"),
            value=lambda row: row.lot.label,
            link=lambda row: reverse("inventory:lot", args=[row.lot.pk]),
        ),
        QuantityColumn[Receipt](
            key="quantity",
            label=gettext_lazy("Quantity"),
            value=lambda row: (row.quantity, row.lot.material.measure),
        ),
        MoneyColumn[Receipt](key="cost", label=gettext_lazy("Cost"), value=lambda row: row.money),
        UnitCostColumn[Receipt](
            key="unit_cost",
            label=gettext_lazy("Unit cost"),
            value=lambda row: (row.money, row.quantity, row.lot.material.measure),
        ),
    )


def _place_link(lot: int | None, pour: int | None) -> str:
    if lot:
        return reverse("inventory:lot", args=[lot])
    return reverse("inventory:pour", args=[pour]) if pour else ""


class MovementTable(Table[Movement]):
    caption = gettext_lazy("Movements, newest first")
    columns = (
        DayColumn[Movement](
            key="day",
            label=gettext_lazy("Day"),
            value=lambda row: row.posting.effective_on,
            link=lambda row: reverse("inventory:posting", args=[row.posting.number]),
            hidden_words=lambda row: _("posting {number}", number=row.posting.number),
        ),
        Column[Movement](
            key="kind",
            label=gettext_lazy("What"),
            value=lambda row: row.posting.get_kind_display(),
            badge=lambda row: REVERSED if row.is_undone else None,
        ),
        Column[Movement](
            key="lot",
            label=gettext_lazy("Lot"),
            value=lambda row: row.here_name,
            link=lambda row: _place_link(row.here.lot, None),
        ),
        Column[Movement](
            key="other",
            label=gettext_lazy("From / to"),
            value=lambda row: row.there_name,
            link=lambda row: _place_link(row.there.lot, row.there.pour),
        ),
        QuantityColumn[Movement](
            key="quantity",
            label=gettext_lazy("Quantity"),
            value=lambda row: (row.quantity, row.material.measure) if row.quantity else None,
        ),
        MoneyColumn[Movement](key="money", label=gettext_lazy("Amount"), value=lambda row: row.money),
    )
