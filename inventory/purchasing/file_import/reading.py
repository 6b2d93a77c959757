"""A delivery from a CSV file or a workbook: every bad line is listed at once, and nothing is posted until all are good.

The first line names the columns. `quantity` is what a person would type ("8 fl oz", "1/2 l", "340 g", "2 each") for one
pack; the line's quantity is that times `packs`. `price` is for the whole line, `price each` for one pack; give either.
"""

import csv
import io
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from itertools import zip_longest
from typing import TypeVar

from django.utils import translation

from inventory.materials.models import Kind, Material
from inventory.purchasing.actions.delivery_facts import LineFacts
from studio.errors import InputError, InputErrors
from studio.imports.reading import WORKBOOK, Sheet, read_file
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.translation import _, ngettext
from studio.values.money import LARGEST_AMOUNT, read_money
from studio.values.numbers import read_small_whole
from studio.values.quantities import Reading
from studio.values.units import Measure

MOST_ROWS = 10_000
MOST_BYTES = 5_000_000
LONGEST_NAME = 120
LONGEST_WORD = 60
Value = TypeVar("Value")
COLUMNS = ("material", "quantity", "packs", "price", "price each", "best before", "place", "batch", "kind")
COLUMN_OF = {"pack": "quantity"}  # where a column is not called what the facts call it


class DeliveryFileError(InputErrors):
    """Raised when a file of a delivery cannot be received as it is; `problems` lists every line to put right."""

    def __str__(self) -> str:
        return "\n".join(located(problem) for problem in self.problems)


def located(problem: InputError) -> str:
    """What is wrong, with its line (1 is the line of column names) and its column."""
    if not problem.field:
        return _("line {line}: {problem}", line=problem.line, problem=problem)
    return _("line {line}, {column}: {problem}", line=problem.line, column=problem.field, problem=problem)


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


def decode(raw: bytes, *, decimal_comma: bool = False) -> str:
    """Read a file's bytes as comma-separated text; an XLSX workbook's numbers with the studio's decimal mark.

    Raises DeliveryFileError when it is too large, neither UTF-8 nor a workbook, or a workbook that could do harm.
    """
    if len(raw) > MOST_BYTES:
        advice = _("The file is larger than {size} MB. Split it.", size=MOST_BYTES // 1_000_000)
        raise DeliveryFileError([InputError(advice, line=1)])
    if raw.startswith(WORKBOOK):
        try:
            return _as_csv(read_file(raw, decimal_comma=decimal_comma))
        except InputError as problem:
            raise DeliveryFileError([InputError(str(problem), line=1)]) from None
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        advice = _("The file is not UTF-8 text. Save it as “CSV UTF-8” in your spreadsheet.")
        raise DeliveryFileError([InputError(advice, line=1)]) from None


def _as_csv(sheet: Sheet) -> str:
    """A workbook's sheet, each of its lines on the line of its number."""
    out = io.StringIO(newline="")
    writer, written = csv.writer(out, lineterminator="\n"), 0
    for line in sheet.lines:
        out.write("\n" * (line.number - written - 1))
        writer.writerow([" ".join(cell.split()) for cell in line.cells])
        written = line.number
    return out.getvalue()


def by_name(materials: Iterable[Material]) -> dict[str, Material]:
    """Materials by the name a file may give them: capitals and doubled spaces do not matter."""
    return {folded(material.name): material for material in materials}


def read_delivery_file(
    text: str,
    *,
    studio: Studio,
    materials_by_name: Mapping[str, Material],
    currency: str = "",
    create: bool = False,
) -> tuple[list[FileLine], Sequence[InputError]]:
    """Read a delivery's lines and everything that is wrong with them. Touches no database.

    `materials_by_name` comes from by_name. With `create`, a line of an unknown material is good if it says its kind.
    """
    try:
        rows = _rows(text)
        reader = _Reader(Formatter.of(studio), currency or studio.currency, materials_by_name, create)
        lines = [line for number, cells in rows if (line := reader.read(number, cells)) is not None]
    except DeliveryFileError as refusal:
        return [], refusal.problems
    if not lines and not reader.problems:
        reader.problems.append(InputError(_("There are no lines after the column names."), line=2))
    return lines, reader.problems


def folded(text: str) -> str:
    """A name as it is compared: capitals and doubled spaces do not matter."""
    return " ".join(text.casefold().split())


def _rows(text: str) -> list[tuple[int, dict[str, str]]]:
    """The file's lines as (line number, cells by column), blank ones left out. Raises DeliveryFileError."""
    heading = text.split("\n", 1)[0]
    separator = max(",;\t", key=heading.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    names: list[str] = []
    rows: list[tuple[int, dict[str, str]]] = []
    start = 1
    try:
        for cells in reader:
            is_blank = not any(cell.strip() for cell in cells)
            if not names and not is_blank:
                names = _columns(cells)
            elif not is_blank:
                rows.append((start, _cells(start, names, cells)))
            start = reader.line_num + 1
            if len(rows) > MOST_ROWS:
                advice = _("More than {most} lines. Split the file.", most=f"{MOST_ROWS:,}")
                raise DeliveryFileError([InputError(advice, line=start)])
    except csv.Error:
        advice = _(
            "The file cannot be read beyond this point: a quotation mark is not closed, or it is not "
            "a CSV file."
        )
        raise DeliveryFileError([InputError(advice, line=start)]) from None
    if not names:
        raise DeliveryFileError([InputError(_("The file is empty."), line=1)])
    return rows


def _columns(cells: list[str]) -> list[str]:
    names = [folded(cell.replace("_", " ").replace("-", " ")) for cell in cells]
    while names and not names[-1]:
        names.pop()
    unknown = _("Unknown column. Use {columns}.", columns=", ".join(COLUMNS))
    problems = [
        InputError(unknown, field=name or _("column {place}", place=place), line=1)
        for place, name in enumerate(names, start=1)
        if name not in COLUMNS
    ]
    problems += [
        InputError(_("This column appears twice."), field=name, line=1)
        for name in COLUMNS
        if names.count(name) > 1
    ]
    problems += [
        InputError(_("This column is missing."), field=name, line=1)
        for name in ("material", "quantity")
        if name not in names
    ]
    if ("price" in names) == ("price each" in names):
        either = _("Add either a column “price” (whole line) or “price each” (one pack).")
        problems.append(InputError(either, field="price", line=1))
    if problems:
        raise DeliveryFileError(problems)
    return names


def _cells(number: int, names: list[str], cells: list[str]) -> dict[str, str]:
    extra = "".join(cells[len(names) :]).strip()
    row = {name: cell.strip() for name, cell in zip_longest(names, cells[: len(names)], fillvalue="")}
    if extra:
        row[""] = extra
    return row


# What a single cell says. Each reader raises InputError saying what was expected.


def _kinds() -> dict[str, Kind]:
    """Kinds by what a file may call them: the plain word, its English name, or its name in the reader's language."""
    with translation.override(None):
        english = {str(kind.label).casefold(): kind for kind in Kind}
    named = {str(kind.label).casefold(): kind for kind in Kind}
    return english | named | {kind.value: kind for kind in Kind}


def _packs(text: str) -> int:
    """How many packs; one when nothing is said."""
    if not text:
        return 1
    number = read_small_whole(text)
    if number is None:
        raise InputError(
            _("“{text}” is not a number of packs. Enter a whole number such as 2.", text=text[:LONGEST_WORD])
        )
    return number


def _nothing_more(text: str) -> None:
    """Refuse what stands beyond the last column."""
    if text:
        raise InputError(
            _("There are more cells than columns. A cell that contains a comma needs quotation marks.")
        )


def _day(text: str) -> date | None:
    """A day, if there is one."""
    try:
        return date.fromisoformat(text) if text else None
    except ValueError:
        raise InputError(
            _("“{text}” is not a date. Enter it as 2027-03-31.", text=text[:LONGEST_WORD])
        ) from None


def _word(text: str) -> str:
    """A few words that a label has room for."""
    if len(text) > LONGEST_WORD:
        raise InputError(_("That is longer than {most} characters. Shorten it.", most=LONGEST_WORD))
    return text


@dataclass(slots=True)
class _Reader:
    """Reads line by line, remembering what each new material is and what is wrong."""

    formatter: Formatter
    currency: str
    known: Mapping[str, Material]
    create: bool
    kinds: Mapping[str, Kind] = field(default_factory=_kinds)
    problems: list[InputError] = field(default_factory=list)
    new: dict[str, Material] = field(default_factory=dict)

    def read(self, number: int, row: Mapping[str, str]) -> FileLine | None:
        """One line, or None once everything wrong with it is noted."""
        before = len(self.problems)

        def cell(column: str, read: Callable[[str], Value]) -> Value | None:
            try:
                return read(row.get(column, ""))
            except InputError as problem:
                self.problems.append(InputError(str(problem), field=column, line=number))
                return None

        cell("", _nothing_more)
        material = cell("material", lambda name: self._material(name, row.get("kind", "")))
        packs = cell("packs", _packs)
        packs = 1 if packs is None else packs
        reading = cell("quantity", lambda text: self._quantity(text, material))
        column = "price each" if "price each" in row else "price"
        price = cell(column, lambda text: self._price(text, packs if column == "price each" else 1))
        best_before = cell("best before", _day)
        place, batch = cell("place", _word), cell("batch", _word)
        if len(self.problems) > before or material is None or reading is None or price is None:
            return None
        if material.pk is None:
            material = self.new.setdefault(folded(material.name), material)
            material.measure = reading.quantity.measure
        try:
            facts = LineFacts(
                material,
                reading.quantity.amount,
                price,
                packs,
                best_before=best_before,
                place=place or "",
                supplier_batch=batch or "",
                typed=row["quantity"],
            )
        except InputError as problem:
            field = COLUMN_OF.get(problem.field or "", problem.field)
            self.problems.append(InputError(str(problem), field=field, line=number))
            return None
        return FileLine(number, facts, reading.echo, self.currency)

    def _material(self, name: str, kind: str) -> Material:
        """The material that a line names: one we have, or an unsaved one whose measure its first quantity decides."""
        if not name:
            raise InputError(_("Enter the material."))
        material = self.known.get(folded(name)) or self.new.get(folded(name))
        if material is not None:
            return material
        if not self.create:
            raise InputError(
                _(
                    "“{name}” is not one of your materials. Add it first, or let the file add new materials.",
                    name=name,
                )
            )
        if len(name) > LONGEST_NAME:
            raise InputError(_("The name is longer than {most} characters.", most=LONGEST_NAME))
        known = self.kinds.get(kind.casefold())
        if known is None:
            raise InputError(
                _("“{name}” is new: enter its kind ({kinds}).", name=name, kinds=", ".join(Kind.values))
            )
        if known == Kind.SURFACE:
            raise InputError(_("“{name}” is a new surface: add it with its size first.", name=name))
        return Material(name=name, kind=known, measure="")

    def _quantity(self, text: str, material: Material | None) -> Reading:
        measure = Measure(material.measure) if material is not None and material.measure else None
        return self.formatter.read(text, measure, density=material.density if material else None)

    def _price(self, text: str, times: int) -> int:
        price = times * read_money(text, self.currency, decimal_comma=self.formatter.decimal_comma)
        if price > LARGEST_AMOUNT:
            raise InputError(_("That number is too large. Check the price and the packs."))
        return price
