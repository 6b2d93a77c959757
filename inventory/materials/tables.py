"""The lists of materials, suppliers and packs."""

from collections.abc import Callable
from dataclasses import KW_ONLY, dataclass, replace
from typing import Any

from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from inventory.materials.models import Kind, Material, MeasureChoice, Supplier, Supply
from studio.pages.addresses import row_address
from studio.pages.columns import Column, NumberColumn, Row, ShortQuantityColumn, TenthsColumn, edit_column
from studio.pages.exports import Cell, money_cell
from studio.pages.tables import Table
from studio.preferences.formatting import Formatter

ARCHIVED = ("note", _("Archived"))
PREFERRED = ("good", _("Preferred"))


def material_column(material: Callable[[Any], Material], **extras: Any) -> Column[Any]:
    """The material of a row, which leads to its page."""
    return Column(
        "material",
        _("Material"),
        lambda row: material(row).name,
        link=lambda row: row_address("inventory:material", material(row).pk),
        colour=lambda row: material(row).colour,
        **extras,
    )


class MaterialTable(Table[Material]):
    """Materials, each annotated with `sold_by`, the number of its suppliers."""

    caption = _("Materials")
    file_name = "materials"
    css = "is-brief"
    columns = (
        Column(
            "name",
            _("Material"),
            lambda row: row.name,
            link=lambda row: row_address("inventory:material", row.pk),
            colour=lambda row: row.colour,
            badge=lambda row: ARCHIVED if row.is_archived else None,
            note=lambda row: row.maker,
        ),
        Column("kind", _("Kind"), lambda row: Kind(row.kind).label),
        Column("measure", _("Measured in"), lambda row: MeasureChoice(row.measure).label),
        ShortQuantityColumn(
            "reorder_level",
            _("Own reorder level"),
            lambda row: None if row.reorder_level is None else (row.reorder_level, row.measure),
        ),
        NumberColumn(
            "suppliers",
            _("Suppliers"),
            lambda row: row.sold_by or None,  # from the view's query
        ),
    )


class SupplierTable(Table[Supplier]):
    """Suppliers, each annotated with `packs`, the number of packs that it sells."""

    caption = _("Suppliers")
    file_name = "suppliers"
    columns = (
        Column(
            "name",
            _("Supplier"),
            lambda row: row.name,
            link=lambda row: row_address("inventory:supplier", row.pk),
            note=lambda row: row.country,
        ),
        Column("currency", _("Currency"), lambda row: row.currency),
        NumberColumn("lead_time", _("Lead time (days)"), lambda row: row.lead_time_days),
        NumberColumn(
            "packs",
            _("Packs"),
            lambda row: row.packs or None,  # from the view's query
        ),
    )


@dataclass(frozen=True)
class PriceColumn(Column[Row]):
    """Pairs of (millionths, currency): in the supplier's own."""

    _: KW_ONLY
    css: str = "number"
    needs_money: bool = True

    def text(self, value: Any, formatter: Formatter) -> str:
        price, currency = value
        return replace(formatter, currency=currency).money(price)

    def file_cells(self, value: Any, formatter: Formatter) -> list[Cell]:
        return [None, None] if value is None else [money_cell(*value), value[1]]

    def file_labels(self, formatter: Formatter) -> list[str]:
        return [str(self.label), gettext("Currency")]


@dataclass(frozen=True)
class PriceBreakColumn(Column[Row]):
    """A pack's price breaks and their currency: "from 6: £16.50"."""

    _: KW_ONLY
    needs_money: bool = True

    def text(self, value: Any, formatter: Formatter) -> str:
        breaks, currency = value
        words = replace(formatter, currency=currency)
        return ", ".join(
            gettext("from {packs}: {price}").format(packs=each.from_packs, price=words.money(each.price))
            for each in breaks
        )

    def file_cells(self, value: Any, formatter: Formatter) -> list[Cell]:
        return [value and self.text(value, formatter)]


class PackTable(Table[Supply]):
    """Packs with suppliers and materials: a supplier's page leaves out the one column, a material's the other."""

    caption = _("Packs")
    columns = (
        material_column(lambda row: row.material, badge=lambda row: PREFERRED if row.is_preferred else None),
        Column(
            "supplier",
            _("Supplier"),
            lambda row: row.supplier.name,
            link=lambda row: row_address("inventory:supplier", row.supplier_id),
            badge=lambda row: PREFERRED if row.is_preferred else None,
        ),
        TenthsColumn("pack_size", _("Pack size"), lambda row: (row.pack_size, row.material.measure)),
        PriceColumn("price", _("Pack price"), lambda row: (row.price, row.supplier.currency)),
        PriceBreakColumn(
            "price_breaks",
            _("Price breaks"),
            lambda row: (breaks, row.supplier.currency) if (breaks := row.price_breaks.all()) else None,
        ),
        Column("barcode", _("Barcode"), lambda row: row.barcode),
        NumberColumn("minimum", _("Minimum order (packs)"), lambda row: row.minimum_packs),
        edit_column("inventory:pack-edit", name=lambda row: f"{row.material.name}, {row.supplier.name}"),
    )
