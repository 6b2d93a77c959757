"""The lists of materials, suppliers and packs."""

from dataclasses import dataclass, replace
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext_lazy

from inventory.materials.models import Kind, Material, MeasureChoice, Supplier, Supply
from studio.pages.columns import Column, NumberColumn, QuantityColumn, Row, ShortQuantityColumn
from studio.pages.exports import Cell, money_cell
from studio.pages.tables import Table
from studio.preferences.formatting import Formatter

ARCHIVED = ("note", gettext_lazy("Archived"))
PREFERRED = ("good", gettext_lazy("Preferred"))


class MaterialTable(Table[Material]):
    """Materials, each annotated with `sold_by`, the number of its suppliers."""

    caption = gettext_lazy("Materials")
    file_name = "materials"
    columns = (
        Column[Material](
            key="name",
            label=gettext_lazy("Material"),
            value=lambda row: row.name,
            link=lambda row: reverse("inventory:material", args=[row.pk]),
            badge=lambda row: ARCHIVED if row.is_archived else None,
            note=lambda row: row.maker,
        ),
        Column[Material](key="kind", label=gettext_lazy("Kind"), value=lambda row: Kind(row.kind).label),
        Column[Material](
            key="measure",
            label=gettext_lazy("Measured in"),
            value=lambda row: MeasureChoice(row.measure).label,
        ),
        ShortQuantityColumn[Material](
            key="reorder_level",
            label=gettext_lazy("Own reorder level"),
            value=lambda row: None if row.reorder_level is None else (row.reorder_level, row.measure),
        ),
        NumberColumn[Material](
            key="suppliers",
            label=gettext_lazy("Suppliers"),
            value=lambda row: row.sold_by or None,  # type: ignore[attr-defined]  # from the view's query
        ),
    )


class SupplierTable(Table[Supplier]):
    """Suppliers, each annotated with `packs`, the number of packs that it sells."""

    caption = gettext_lazy("Suppliers")
    file_name = "suppliers"
    columns = (
        Column[Supplier](
            key="name",
            label=gettext_lazy("Supplier"),
            value=lambda row: row.name,
            link=lambda row: reverse("inventory:supplier", args=[row.pk]),
            note=lambda row: row.country,
        ),
        Column[Supplier](key="currency", label=gettext_lazy("Currency"), value=lambda row: row.currency),
        NumberColumn[Supplier](
            key="lead_time", label=gettext_lazy("Lead time (days)"), value=lambda row: row.lead_time_days
        ),
        NumberColumn[Supplier](
            key="packs",
            label=gettext_lazy("Packs"),
            value=lambda row: row.packs or None,  # type: ignore[attr-defined]  # from the view's query
        ),
    )


@dataclass(frozen=True, kw_only=True)
class PriceColumn(Column[Row]):
    """Pairs of (millionths, currency): the supplier's own."""

    css: str = "number"
    needs_money: bool = True

    def text(self, value: Any, formatter: Formatter) -> str:
        price, currency = value
        return replace(formatter, currency=currency).money(price)

    def file_cells(self, value: Any, formatter: Formatter) -> list[Cell]:
        return [money_cell(*value)]


class PackTable(Table[Supply]):
    """Packs with suppliers and materials: a supplier's page leaves out the one column, a material's the other."""

    caption = gettext_lazy("Packs")
    columns = (
        Column[Supply](
            key="material",
            label=gettext_lazy("Material"),
            value=lambda row: row.material.name,
            link=lambda row: reverse("inventory:material", args=[row.material_id]),
            badge=lambda row: PREFERRED if row.is_preferred else None,
        ),
        Column[Supply](
            key="supplier",
            label=gettext_lazy("Supplier"),
            value=lambda row: row.supplier.name,
            link=lambda row: reverse("inventory:supplier", args=[row.supplier_id]),
            badge=lambda row: PREFERRED if row.is_preferred else None,
        ),
        QuantityColumn[Supply](
            key="pack_size",
            label=gettext_lazy("Pack size"),
            value=lambda row: (row.pack_size, row.material.measure),
        ),
        PriceColumn[Supply](
            key="price",
            label=gettext_lazy("Pack price"),
            value=lambda row: (row.price, row.supplier.currency),
        ),
        Column[Supply](key="barcode", label=gettext_lazy("Barcode"), value=lambda row: row.barcode),
        NumberColumn[Supply](
            key="minimum", label=gettext_lazy("Minimum order (packs)"), value=lambda row: row.minimum_packs
        ),
        Column[Supply](
            key="edit",
            label=gettext_lazy("Change"),
            value=lambda row: gettext_lazy("Edit"),
            link=lambda row: reverse("inventory:pack-edit", args=[row.pk]),
            hidden_words=lambda row: f"{row.material.name}, {row.supplier.name}",
        ),
    )
