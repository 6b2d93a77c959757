"""The lines of a table from a file or from the clipboard: CSV in whatever encoding, workbooks, text with tabs.

What cannot be read, or could do harm, is refused with what to do about it. Cells come out as the text that somebody in
this studio would type, so that every reader of typed figures reads them.
"""

import csv
import io
import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from studio.errors import InputError
from studio.translation import _
from studio.values.cell_text import without_apostrophe

MOST_BYTES = 3_000_000
MOST_LINES = 10_050  # ten thousand rows, and what may stand above them
MOST_COLUMNS = 60
LONGEST_CELL = 5_000
DELIMITERS = "\t;,|"
LINES_LOOKED_AT = 50
WORKBOOK = b"PK\x03\x04"
OLD_OFFICE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"  # .xls, and any workbook with a password
MARKS = {b"\xef\xbb\xbf": "utf-8-sig", b"\xff\xfe": "utf-16", b"\xfe\xff": "utf-16"}
_SEPARATOR_LINE = re.compile(r"sep=([;,|\t])\r?\n", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Line:
    """One line that is not blank: its number in the file or sheet (from 1), and its cells."""

    number: int
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Sheet:
    """The lines of a table. `notes` say what was taken for granted or left out while reading it.

    Of a workbook also its sheets' `names`, the `name` of this one, and whether it is another than is read unasked.
    """

    lines: tuple[Line, ...]
    notes: tuple[str, ...] = ()
    names: tuple[str, ...] = ()
    name: str = ""
    is_other: bool = False


def read_file(raw: bytes, *, decimal_comma: bool, sheet: str = "") -> Sheet:
    """Read a CSV file, or a sheet of an XLSX workbook: that of this name, or the first that holds rows.

    Raises InputError, whose text says what to do instead.
    Numbers of a workbook are written with a decimal comma where the studio writes one.
    """
    if len(raw) > MOST_BYTES:
        raise InputError(_("The file is larger than {size} MB. Split it.", size=MOST_BYTES // 1_000_000))
    if raw.startswith(WORKBOOK):
        from studio.imports.workbooks import (
            read_workbook,  # which needs a library that takes a moment to load
        )

        return checked(read_workbook(raw, decimal_comma=decimal_comma, wanted=sheet))
    if raw.startswith(OLD_OFFICE):
        raise InputError(
            _("This is an old or protected spreadsheet. Save it without a password as XLSX or as CSV UTF-8.")
        )
    text, notes = decoded(raw)
    return checked(Sheet(tuple(_lines(text)), notes))


def checked(sheet: Sheet) -> Sheet:
    """The sheet, unless it is empty. Raises InputError."""
    if not sheet.lines:
        raise InputError(_("There is nothing in it. Choose a file with headings and rows, or paste them."))
    return sheet


def decoded(raw: bytes) -> tuple[str, tuple[str, ...]]:
    """A file's bytes as text, and a note where the encoding had to be guessed. Raises InputError for no text."""
    encoding = next((name for mark, name in MARKS.items() if raw.startswith(mark)), None) or _without_mark(
        raw
    )
    notes: tuple[str, ...] = ()
    try:
        text = raw.decode(encoding)
    except UnicodeDecodeError:
        text = raw.decode("cp1252", errors="replace")
        notes = (
            _(
                "The file is not UTF-8, so it was read as Western European text. Check letters such as ü and £."
            ),
        )
    if "\0" in text or text.count("\ufffd") > len(text) // 100:
        raise InputError(_("This is not a table. Choose a CSV or XLSX file, or paste the cells."))
    return text, notes


def _without_mark(raw: bytes) -> str:
    """UTF-16 without a mark has a zero byte in nearly every pair; everything else is tried as UTF-8."""
    start = raw[:2000]
    if len(start) >= 4:
        for encoding, zeros in (("utf-16-le", start[1::2]), ("utf-16-be", start[::2])):
            if zeros.count(0) * 10 > len(zeros) * 7:
                return encoding
    return "utf-8"


def _lines(text: str) -> Iterable[Line]:
    delimiter = ""
    if named := _SEPARATOR_LINE.match(text):
        delimiter, skipped = named[1], 1
        text = text[named.end() :]
    else:
        skipped = 0
    reader = csv.reader(
        io.StringIO(text, newline=""), delimiter=delimiter or _delimiter_of(text), strict=True
    )
    start = 1
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                yield line_of(start + skipped, cells)
            start = reader.line_num + 1
            if start > MOST_LINES:
                raise too_many_lines()
    except csv.Error:
        raise InputError(
            _(
                "It cannot be read beyond line {line}: a quotation mark is not closed there, or it is no table.",
                line=start + skipped,
            )
        ) from None


def too_many_lines() -> InputError:
    return InputError(_("More than {most} lines. Split the file.", most=f"{MOST_LINES - 50:,}"))


def line_of(number: int, cells: Iterable[str]) -> Line:
    """A line without the blank cells at its end. Raises InputError for too many cells, or too long a one."""
    tidied = [without_apostrophe(cell.strip()) for cell in cells]
    while tidied and not tidied[-1]:
        tidied.pop()
    if len(tidied) > MOST_COLUMNS:
        raise InputError(
            _(
                "Line {line} has more than {most} columns. Delete those that are not needed.",
                line=number,
                most=MOST_COLUMNS,
            )
        )
    if any(len(cell) > LONGEST_CELL for cell in tidied):
        raise InputError(_("Line {line} has a cell that is too long. Shorten it.", line=number))
    return Line(number, tuple(tidied))


def _delimiter_of(text: str) -> str:
    """The delimiter that cuts the most of the first lines into the same number of cells, more than one."""
    lines = [line for line in text.splitlines()[: LINES_LOOKED_AT * 2] if line.strip()][:LINES_LOOKED_AT]

    def fits(delimiter: str) -> tuple[int, int]:
        try:
            counts = Counter(len(cells) for cells in csv.reader(lines, delimiter=delimiter) if len(cells) > 1)
        except csv.Error:
            return (0, 0)
        if not counts:
            return (0, 0)
        cells, alike = max(counts.items(), key=lambda each: (each[1], each[0]))
        return (alike, cells)

    return max(DELIMITERS, key=fits)
