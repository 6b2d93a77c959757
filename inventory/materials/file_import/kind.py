"""Materials from a table: what can be imported, an example, and what there is."""

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext_lazy

from inventory.materials.file_import.columns import COLUMNS
from inventory.materials.file_import.rows import MaterialReader
from inventory.materials.models import Kind, Material, MeasureChoice, Supply
from inventory.materials.new_in_place import size_of
from studio.imports.kinds import ImportKind
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.translation import _
from studio.values.units import Measure


def example(studio: Studio) -> Sequence[Mapping[str, Any]]:
    """A few rows of the net loft."""
    return [
        {"name": "Sail Loft White", "kind": "paint", "maker": "Sail Loft", "supplier": "Harbour Pigments",
         "pack_size": "500 ml", "price": 9_500_000, "minimum_packs": 1},
        {"name": "Sail Loft White", "supplier": "Harbour Pigments", "pack_size": "2 l", "price": 29_900_000},
        {"name": "Lantern Amber", "kind": "paint", "density": "1.15", "supplier": "Harbour Pigments",
         "pack_size": "8 fl oz", "price": 9_400_000},
        {"name": "Round board 20 cm", "kind": "surface", "size": "20 cm round x 1.2 cm",
         "supplier": "Stretcher and Frame", "pack_size": "10 each", "price": 34_900_000},
    ]  # fmt: skip


def recorded(studio: Studio) -> Sequence[Mapping[str, Any]]:
    """Every material with its packs, a row for each pack, or one for a material without any."""
    rows: list[Mapping[str, Any]] = []
    for material in Material.objects.filter(is_free=False).prefetch_related("supplies__supplier"):
        packs = list(material.supplies.all())
        rows += [_material_cells(material, studio) | _pack_cells(pack) for pack in packs]
        rows += [] if packs else [_material_cells(material, studio)]
    return rows


def _material_cells(material: Material, studio: Studio) -> dict[str, Any]:
    comma = Formatter.of(studio).decimal_comma
    unit = Measure(material.measure).base_unit.symbol
    size = size_of(material)
    return {
        "name": material.name,
        "kind": str(Kind(material.kind).label),
        "measure": str(MeasureChoice(material.measure).label),
        "maker": material.maker,
        "colour": material.colour,
        "density": material.density and Decimal(material.density).scaleb(-6).normalize(),
        "water_share": Decimal(material.water_share) / 10_000 if material.water_share else None,
        "size": size and size.typed(decimal_comma=comma),
        "keeps_days": material.keeps_days,
        "reorder_level": None if material.reorder_level is None else Decimal(material.reorder_level) / 1000,
        "reorder_level_unit": "" if material.reorder_level is None else unit,
        "notes": material.notes,
    }


def _pack_cells(pack: Supply) -> dict[str, Any]:
    return {
        "supplier": pack.supplier.name,
        "currency": pack.supplier.currency,
        "lead_time_days": pack.supplier.lead_time_days,
        "pack_size": Decimal(pack.pack_size) / 1000,
        "pack_size_unit": Measure(pack.material.measure).base_unit.symbol,
        "price": pack.price,
        "minimum_packs": pack.minimum_packs,
        "barcode": pack.barcode,
        "is_preferred": _("yes") if pack.is_preferred else _("no"),
    }


MATERIALS = ImportKind(
    code="materials",
    title=gettext_lazy("Materials from a file"),
    lead=gettext_lazy("Materials with their packs and suppliers: one row for each pack."),
    columns=COLUMNS,
    reader=MaterialReader,
    example=example,
    list_url="inventory:materials",
    recorded=recorded,
)
