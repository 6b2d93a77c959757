"""A delivery from a table: every bad line is listed at once, and nothing is posted until all are good.

A pack size is what a person would type ("8 fl oz", "1/2 l", "340 g", "2 each"); the line's quantity is that times
`packs`. The price is for the whole line, or for one pack.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.utils.translation import gettext_lazy

from inventory.materials.models import Kind, Material
from inventory.purchasing.actions.delivery_facts import MOST_PACKS, LineFacts
from inventory.purchasing.file_import.columns import DELIVERY_LINES, other_meanings
from studio.errors import InputError, InputErrors
from studio.imports.cells import Cells, folded, words_of
from studio.imports.checking import OpenTable, open_table
from studio.imports.kinds import TableKind
from studio.imports.reading import Line, Sheet
from studio.preferences.models import Studio
from studio.translation import _, ngettext
from studio.values.money import LARGEST_AMOUNT
from studio.values.quantities import Reading
from studio.values.units import Measure

LONGEST_NAME = 120
LONGEST_WORD = 60
NO_MATERIAL = gettext_lazy("Enter the material.")  # translated only where a cell is blank
NO_PRICE = gettext_lazy("Enter the price of the line, or of one pack.")
# Where a column is not called what the facts call it.
COLUMN_OF = {"pack": "pack_size", "supplier_batch": "batch"}


class DeliveryFileError(InputErrors):
    """Raised when a file of a delivery cannot be received as it is; `problems` lists every line to put right."""

    def __str__(self) -> str:
        return "\n".join(located(problem) for problem in self.problems)


def located(problem: InputError) -> str:
    """What is wrong, with its line and its column, as far as it is about one."""
    column = DELIVERY_LINES.labels.get(problem.field or "")
    if not problem.line:
        return str(problem)
    if not column:
        return _("line {line}: {problem}", line=problem.line, problem=problem)
    return _("line {line}, {column}: {problem}", line=problem.line, column=column, problem=problem)


@dataclass(frozen=True, slots=True)
class FileLine:
    """One good line and how its quantity was understood. A material that is new is not saved yet."""

    number: int
    facts: LineFacts
    understood: str
    currency: str

    @property
    def as_read(self) -> str:
        """How many packs of what."""
        return packs_of(self.facts.packs, self.understood)


def packs_of(packs: int, size: str) -> str:
    """So many packs of a size; the size alone for one."""
    if packs == 1:
        return size
    return ngettext("{n} pack of {size}", "{n} packs of {size}", packs, n=packs, size=size)


def by_name(materials: Iterable[Material]) -> dict[str, Material]:
    """Materials by the name a file may give them: capitals and doubled spaces do not matter."""
    return {folded(material.name): material for material in materials}


def open_lines(
    sheet: Sheet,
    *,
    studio: Studio,
    today: date,
    remembered: Mapping[str, str],
    chosen: Mapping[int, str] | None = None,
    fixed: Mapping[str, str] | None = None,
) -> OpenTable[TableKind]:
    """Match the headings of a table of delivery lines, as `open_table` does. Raises InputError."""
    return open_table(
        DELIVERY_LINES,
        sheet,
        studio=studio,
        today=today,
        remembered={**other_meanings(sheet), **remembered},
        chosen=chosen,
        fixed=fixed,
    )


def read_lines(
    table: OpenTable[TableKind],
    *,
    materials_by_name: Mapping[str, Material],
    currency: str = "",
    create: bool = False,
) -> tuple[list[FileLine], Sequence[InputError]]:
    """Read a delivery's lines and everything that is wrong with them. Touches no database.

    `materials_by_name` comes from by_name. With `create`, a line of an unknown material is good if it says its kind.
    """
    if missing := _missing(table):
        names = ", ".join(missing)
        return [], [InputError(_("Choose the column for: {columns}", columns=names))]
    width = len(table.headings.line.cells)
    reader = _Reader(currency or table.studio.currency, materials_by_name, create)
    lines: list[FileLine] = []
    problems: list[InputError] = []
    for line, cells in table.cells():
        if len(line.cells) > width:
            advice = _(
                "There are more cells than columns. A cell that contains a comma needs quotation marks."
            )
            cells.problems.append(InputError(advice))
        try:
            lines.append(reader.read(line, cells))
        except InputError as refusal:
            problems += [problem.on_line(line.number) for problem in refusal.problems]
    return lines, problems


def _missing(table: OpenTable[TableKind]) -> list[str]:
    """Labels of the columns that it needs and lacks: one for a price as well."""
    given = {*table.headings.keys, *table.fixed}
    labels = DELIVERY_LINES.labels
    return table.missing + ([] if {"price", "price_each"} & given else [labels["price"]])


@dataclass(slots=True)
class _Reader:
    """Reads line by line, remembering what each new material is."""

    currency: str
    known: Mapping[str, Material]
    create: bool
    kinds: Mapping[str, str] = field(default_factory=lambda: words_of(Kind))
    new: dict[str, Material] = field(default_factory=dict)

    def read(self, line: Line, cells: Cells) -> FileLine:
        """One line. Raises InputErrors with everything that is wrong with it."""
        material = cells.read(
            "material", lambda name: self._material(name, cells["kind"]), required=NO_MATERIAL
        )
        packs = cells.whole("packs", least=1, most=MOST_PACKS) or 1
        reading = self._pack_size(cells, material)
        price = self._price(cells, packs)
        about: dict[str, Any] = {
            "best_before": cells.day("best_before"),
            "place": cells.words("place", most=LONGEST_WORD),
            "supplier_batch": cells.words("batch", most=LONGEST_WORD),
            "typed": cells.with_unit("pack_size")[:LONGEST_WORD],
        }
        cells.refuse()
        if material is None or reading is None or price is None:
            raise InputError(_("This row cannot be read."))
        if material.pk is None:
            material = self.new.setdefault(folded(material.name), material)
            material.measure = reading.quantity.measure
        try:
            facts = LineFacts(material, reading.quantity.amount, price, packs, **about)
        except InputError as problem:
            raise InputErrors(
                InputError(str(each), field=COLUMN_OF.get(each.field or "", each.field))
                for each in problem.problems
            ) from None
        return FileLine(line.number, facts, reading.echo, self.currency)

    def _material(self, name: str, kind: str) -> Material:
        """The material that a line names: one we have, or an unsaved one whose measure its first quantity decides."""
        material = self.known.get(folded(name)) or self.new.get(folded(name))
        if material is not None:
            return material
        if not self.create:
            raise InputError(
                _(
                    "“{name}” is not one of your materials. Add it first, or let the file add new materials.",
                    name=name[:LONGEST_NAME],
                )
            )
        if len(name) > LONGEST_NAME:
            raise InputError(_("The name is longer than {most} characters.", most=LONGEST_NAME))
        known = self.kinds.get(folded(kind))
        if known is None:
            kinds = ", ".join(str(each.label) for each in Kind)
            raise InputError(_("“{name}” is new: enter its kind ({kinds}).", name=name, kinds=kinds))
        if known == Kind.SURFACE:
            raise InputError(_("“{name}” is a new surface: add it with its size first.", name=name))
        return Material(name=name, kind=known, measure="")

    def _pack_size(self, cells: Cells, material: Material | None) -> Reading | None:
        if not cells["pack_size"]:
            cells.note("pack_size", _("Enter the pack size, such as 500 ml."))
        measure = Measure(material.measure) if material is not None and material.measure else None
        return cells.quantity("pack_size", measure, density=material.density if material else None)

    def _price(self, cells: Cells, packs: int) -> int | None:
        """The price of the line, or that of a pack so many times."""
        if cells["price"] or not cells["price_each"]:
            return cells.money("price", self.currency, required=NO_PRICE)
        each = cells.money("price_each", self.currency)
        if each is not None and each * packs > LARGEST_AMOUNT:
            cells.note("price_each", _("That number is too large. Check the price and the packs."))
            return None
        return None if each is None else each * packs
