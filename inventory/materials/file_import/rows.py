"""Reads and saves rows of materials, each with a pack and its supplier where the row names one."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any, cast

from django.core.exceptions import ValidationError

from inventory.materials.actions import save_material, save_pack, save_supplier
from inventory.materials.file_import.columns import COLUMNS
from inventory.materials.file_import.kinds_of_rows import kind_of
from inventory.materials.models import Kind, Material, MeasureChoice, Supplier, Supply
from inventory.materials.new_in_place import give_size, guessed_kind, kind_in, size_in, size_of
from inventory.materials.packs import tidy_gtin
from studio.errors import InputError
from studio.imports.cells import Cells, folded, words_of
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.submission import Submission
from studio.translation import _
from studio.values.money import minor_units
from studio.values.quantities import Reading
from studio.values.sizes import Size
from studio.values.units import Measure

FILLED_IN = ("maker", "colour", "density", "keeps_days", "reorder_level")  # where nothing is recorded yet
COMPARED = ("kind", "measure", "maker", "colour", "density", "water_share", "keeps_days", "reorder_level")
OF_PACK = ("pack_size", "price", "minimum_packs", "barcode", "is_preferred")


@dataclass(frozen=True, slots=True)
class MaterialRow:
    """What one row says: a material, known or new, and perhaps a pack and who sells it. Rows are not saved yet."""

    material: Material
    supplier: Supplier | None = None
    pack: Supply | None = None
    understood: str = ""  # of the pack's size
    pack_is_there: bool = False
    filled_in: Mapping[str, Any] = field(default_factory=dict)  # what was not recorded of a known material


@dataclass(slots=True)
class MaterialReader:
    """Reads rows against the materials, suppliers and packs that there are, and those of the rows above."""

    studio: Studio
    today: date
    materials: dict[str, Material] = field(default_factory=dict)
    suppliers: dict[str, Supplier] = field(default_factory=dict)
    packs: dict[tuple[str, str, int], Supply] = field(default_factory=dict)
    kinds: Mapping[str, str] = field(default_factory=lambda: words_of(Kind))
    measures: Mapping[str, str] = field(default_factory=lambda: _measure_words())

    def __post_init__(self) -> None:
        self.materials = {folded(each.name): each for each in Material.objects.all()}
        self.suppliers = {folded(each.name): each for each in Supplier.objects.all()}
        for pack in Supply.objects.select_related("supplier", "material"):
            self.packs[_key_of(pack)] = pack

    def read(self, cells: Cells) -> MaterialRow:
        if not cells["size"] and cells.is_size(
            "pack_size"
        ):  # the only size that a table has may be the surface's
            cells.texts = {**cells.texts, "size": cells["pack_size"], "pack_size": "1"}
        name = cells.words("name", most=120, required=_("Enter the material."))
        known = self.materials.get(folded(name)) if name else None
        filled_in = self._compared(cells, known) if known else {}
        material = known or self._new(cells, name)
        supplier = self._supplier(cells) if cells["supplier"] else None
        pack, reading = (None, None)
        if supplier is not None:
            pack, reading = self._pack(cells, material, supplier)
        elif any(cells[key] for key in OF_PACK if key != "pack_size"):
            cells.note("supplier", _("Enter who sells it, or name one supplier for all rows."))
        cells.refuse()
        there = pack is not None and _key_of(pack) in self.packs
        if reading is None and material.measure and cells["pack_size"]:
            reading = cells.beside().quantity("pack_size", material.measure, density=material.density)
        return MaterialRow(material, supplier, pack, reading.echo if reading else "", there, filled_in)

    def _new(self, cells: Cells, name: str) -> Material:
        size = cells.size("size")
        kind = self._kind(cells, size, name)
        measure = self._measure(cells, kind)
        if kind is None and measure is not None:
            kind = str(guessed_kind(name, Measure(measure)))
        if kind == Kind.SURFACE and size is None:
            size = size_in(name, cells.numbers)
        material = Material(
            name=name,
            kind=kind or "",
            measure=measure or "",
            maker=cells.words("maker", most=120),
            colour=cells["colour"],
            density=cells.scaled("density", unit="g/mL"),
            water_share=cells.percent("water_share") or 0,
            keeps_days=cells.whole("keeps_days", least=1),
            notes=cells.words("notes", most=5_000),
        )
        if size is not None:
            give_size(material, size)
        if level := measure and cells.quantity(
            "reorder_level", measure, density=material.density, allow_zero=True
        ):
            material.reorder_level = level.quantity.amount
        if not cells.problems:
            _refuse_model(cells, material, {"size": "size"})
        return material

    def _kind(self, cells: Cells, size: Size | None, name: str) -> str | None:
        """As it says, else by its size or its name; None where only its measure can tell."""
        if cells["kind"]:
            return kind_of(cells, self.kinds)
        kind = Kind.SURFACE if size is not None else kind_in(name)
        return str(kind) if kind else None

    def _measure(self, cells: Cells, kind: str | None) -> str | None:
        """As it says, or as its pack is measured; surfaces are counted."""
        if cells["measure"]:
            return cells.choice("measure", self.measures)
        if kind == Kind.SURFACE:
            return str(MeasureChoice.COUNT)
        beside = cells.beside()
        reading = beside.quantity("pack_size")
        if reading is None and kind in (Kind.SUNDRY, Kind.PACKAGING):
            return str(MeasureChoice.COUNT)
        if beside.problems:
            cells.problems += beside.problems
            return None
        if reading is None:
            cells.note("measure", _("Enter what it is measured in, or its pack with a unit, such as 250 ml."))
            return None
        return str(reading.quantity.measure)

    def _compared(self, cells: Cells, known: Material) -> dict[str, Any]:
        """What the row says of a material that there is and that is not recorded yet.

        The rest must be what is recorded: a table changes nothing.
        """
        read: dict[str, Any] = {
            "kind": kind_of(cells, self.kinds),
            "measure": cells.choice("measure", self.measures),
            "maker": cells["maker"] or None,
            "colour": cells["colour"] or None,
            "density": cells.scaled("density", unit="g/mL"),
            "water_share": cells.percent("water_share"),
            "keeps_days": cells.whole("keeps_days", least=1),
        }
        level = cells.quantity("reorder_level", known.measure, density=known.density, allow_zero=True)
        read["reorder_level"] = level.quantity.amount if level else None
        differing = {key: read[key] for key in COMPARED if read[key] not in (None, getattr(known, key))}
        filled_in = {
            key: differing[key] for key in FILLED_IN if key in differing and getattr(known, key) in (None, "")
        }
        for key in differing.keys() - filled_in.keys():
            cells.note(key, _differs(known.name))
        size = cells.size("size")
        if size and (size.height, size.width, size.depth) != (known.height, known.width, known.depth):
            cells.note("size", _differs(known.name))
        return filled_in

    def _supplier(self, cells: Cells) -> Supplier | None:
        name = cells.words("supplier", most=120)
        if not name:
            return None
        known = self.suppliers.get(folded(name))
        currency = cells["currency"].upper()
        if known is not None:
            if currency and currency != known.currency:
                cells.note("currency", _differs(known.name))
            return known
        bracket = cells.bracketed.get("price", "").upper()
        supplier = Supplier(name=name, currency=currency or (_code(bracket) or self.studio.currency))
        lead_time = cells.whole("lead_time_days")
        if lead_time is not None:
            supplier.lead_time_days = lead_time
        _refuse_model(cells, supplier, {})
        return supplier

    def _pack(
        self, cells: Cells, material: Material, supplier: Supplier
    ) -> tuple[Supply | None, Reading | None]:
        if not any(cells[key] for key in OF_PACK):
            return None, None
        before = len(cells.problems)
        if not cells["pack_size"]:
            cells.note("pack_size", _("Enter the pack size, as on the label: 500 ml."))
        reading = material.measure and cells.quantity("pack_size", material.measure, density=material.density)
        price = cells.money("price", supplier.currency, required=_("Enter what one pack costs."))
        minimum = cells.whole("minimum_packs", least=1)
        barcode = tidy_gtin(cells["barcode"])
        preferred = cells.yes("is_preferred")
        if not reading or price is None or len(cells.problems) > before:
            return None, None
        pack = Supply(
            supplier=supplier,
            material=material,
            pack_size=reading.quantity.amount,
            price=price,
            barcode=barcode,
            minimum_packs=minimum or 1,
            is_preferred=bool(preferred),
        )
        if (known := self.packs.get(_key_of(pack))) is not None:
            given = {
                "price": price,
                "barcode": barcode or None,
                "minimum_packs": minimum,
                "is_preferred": preferred,
            }
            for key, value in given.items():
                if value is not None and value != getattr(known, key):
                    cells.note(key, _sold_otherwise(supplier))
            return known, reading
        return pack, reading

    def is_there(self, facts: MaterialRow) -> bool:
        supplier_is_there = facts.supplier is None or folded(facts.supplier.name) in self.suppliers
        pack_is_there = facts.pack is None or facts.pack_is_there
        return (
            folded(facts.material.name) in self.materials
            and supplier_is_there
            and pack_is_there
            and not facts.filled_in
        )

    def words(self, facts: MaterialRow, formatter: Formatter) -> Mapping[str, str]:
        material = facts.material
        words: dict[str, Any] = {
            "kind": Kind(material.kind).label,
            "measure": MeasureChoice(material.measure).label,
        }
        if facts.understood:
            words |= {"pack_size": facts.understood, "pack_size_unit": ""}
        if facts.pack is not None:
            money = Formatter(facts.pack.supplier.currency, formatter.locale, formatter.fluid_system)
            words["price"] = money.money(facts.pack.price)
        if material.density is not None:
            words["density"] = formatter.density(material.density)
        if material.water_share:
            words["water_share"] = formatter.percent(material.water_share)
        if (size := size_of(material)) is not None:
            words["size"] = formatter.size(size)
        if material.reorder_level is not None:
            words |= {
                "reorder_level": formatter.quantity(material.reorder_level, material.measure),
                "reorder_level_unit": "",
            }
        return {key: str(word) for key, word in words.items()}

    def save(self, facts: MaterialRow, submission: Submission) -> None:
        if folded(facts.material.name) not in self.materials:
            save_material(facts.material, submission=submission)
        elif facts.filled_in:
            now = Material.objects.get(pk=facts.material.pk)
            _fill_in(now, facts.filled_in)
            save_material(now, submission=submission)
        if facts.supplier is not None and folded(facts.supplier.name) not in self.suppliers:
            save_supplier(facts.supplier, submission=submission)
        if facts.pack is not None and not facts.pack_is_there:
            facts.pack.supplier = cast("Supplier", facts.supplier)  # with the numbers that they have by now
            facts.pack.material = facts.material
            save_pack(facts.pack, submission=submission)

    def keep(self, facts: MaterialRow) -> None:
        known = self.materials.setdefault(folded(facts.material.name), facts.material)
        _fill_in(known, facts.filled_in)
        if facts.supplier is not None:
            self.suppliers.setdefault(folded(facts.supplier.name), facts.supplier)
        if facts.pack is not None:
            self.packs.setdefault(_key_of(facts.pack), facts.pack)


def _fill_in(material: Material, values: Mapping[str, Any]) -> None:
    for key, value in values.items():
        setattr(material, key, value)


def _measure_words() -> dict[str, str]:
    """With the unit in brackets, as lists show them, and without."""
    words = words_of(MeasureChoice)
    return words | {word.split(" (")[0]: code for word, code in words.items()}


def _key_of(pack: Supply) -> tuple[str, str, int]:
    return (folded(pack.supplier.name), folded(pack.material.name), pack.pack_size)


def _differs(name: str) -> str:
    return _("{name} is recorded otherwise. Change it on its own page, or leave this cell blank.", name=name)


def _sold_otherwise(supplier: Supplier) -> str:
    return _("{supplier} already sells this pack otherwise. Change it there.", supplier=supplier)


def _code(text: str) -> str:
    """A currency's code, if this is one."""
    try:
        minor_units(text)
    except InputError:
        return ""
    return text


def _refuse_model(cells: Cells, row: Material | Supplier, names: Mapping[str, str]) -> None:
    """Note what the model itself refuses, without asking the database."""
    try:
        row.clean()
        row.clean_fields()
    except ValidationError as problem:
        known = {column.key for column in COLUMNS}
        for column, messages in problem.message_dict.items():
            key = names.get(column, column)
            for message in messages:
                cells.note(key if key in known else "name", message)
