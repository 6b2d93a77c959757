"""The shopping list as a file: one row for each pack."""

from collections.abc import Iterator
from dataclasses import dataclass

from django.utils.translation import gettext_lazy as _

from inventory.materials.models import Material, Supplier
from inventory.materials.tables import PriceColumn
from inventory.shopping.models import ShoppingEntry
from inventory.shopping.queries import Packs, ShoppingList
from inventory.shopping.wording import ShoppingWords
from studio.pages.columns import Column, NumberColumn, QuantityColumn
from studio.pages.tables import Table

TICKED = ("good", _("In the basket"))


@dataclass(frozen=True, slots=True)
class ShoppingRow:
    """A pack to buy, or something that nobody is listed as selling."""

    name: str
    supplier: Supplier | None = None
    material: Material | None = None
    packs: Packs | None = None
    why: str = ""
    is_ticked: bool = False


def rows_of(listed: ShoppingList, words: ShoppingWords) -> Iterator[ShoppingRow]:
    for line in listed.lines:
        for packs in line.packs:
            yield ShoppingRow(
                line.material.name,
                line.supplier,
                line.material,
                packs,
                words.origin(line.need),
                line.is_ticked,
            )
    for need in listed.unsold:
        ticked = need.entry is not None and need.entry.is_ticked
        yield ShoppingRow(
            need.material.name, material=need.material, why=words.origin(need), is_ticked=ticked
        )
    for entry in listed.others:
        yield _in_words(entry)


def _in_words(entry: ShoppingEntry) -> ShoppingRow:
    return ShoppingRow(entry.text, is_ticked=entry.is_ticked)


class ShoppingTable(Table[ShoppingRow]):
    caption = _("Shopping list")
    file_name = "shopping-list"
    columns = (
        Column("supplier", _("Supplier"), lambda row: row.supplier.name if row.supplier else ""),
        Column("what", _("What to buy"), lambda row: row.name),
        NumberColumn("packs", _("Packs"), lambda row: row.packs.count if row.packs else None),
        QuantityColumn(
            "pack_size",
            _("Pack size"),
            lambda row: (
                (row.packs.supply.pack_size, row.material.measure) if row.packs and row.material else None
            ),
        ),
        PriceColumn(
            "price",
            _("Line price"),
            lambda row: (row.packs.cost, row.supplier.currency) if row.packs and row.supplier else None,
        ),
        Column("why", _("Reason"), lambda row: row.why),
        Column(
            "ticked", _("In the basket"), lambda row: "", badge=lambda row: TICKED if row.is_ticked else None
        ),
    )
