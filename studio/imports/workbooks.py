"""A sheet of an XLSX workbook as lines of text. Bombs and macros are refused, formulas read as last worked out.

A workbook is a ZIP archive of XML (ISO/IEC 29500). Its sizes are looked at before anything is unpacked, and its XML
may declare no document type, through which entities could grow without end or reach outside.
"""

import io
import re
import warnings
import zipfile
from collections.abc import Iterator, Sequence
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any

from openpyxl import load_workbook

from studio.errors import DAMAGED_ZIP, InputError
from studio.imports.headings import marks_of
from studio.imports.reading import MOST_COLUMNS, MOST_LINES, Line, Sheet, line_of, too_many_lines
from studio.translation import _, ngettext

MOST_PARTS = 500
MOST_UNPACKED = 40_000_000  # bytes of all parts together
MOST_BLANK = 2_000  # lines in a row, before a sheet counts as ended
_DOCUMENT_TYPE = re.compile(rb"<\0?!\0?(?:D\0?O\0?C\0?T\0?Y\0?P\0?E|E\0?N\0?T\0?I\0?T\0?Y)", re.IGNORECASE)
_FORMULA = re.compile(rb"<(?:\w+:)?f[ >/]")
_DIGITS = 15  # that a spreadsheet keeps of a number


def read_workbook(raw: bytes, *, decimal_comma: bool, wanted: str = "") -> Sheet:
    """The lines of the `wanted` sheet, or of the first that holds rows. Raises InputError."""
    formulas = _inspected(raw)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # what the library has to say of styles is of no use here
            book = load_workbook(io.BytesIO(raw), read_only=True, data_only=True, keep_links=False)
            try:
                return _sheet_of(book, formulas, decimal_comma, wanted)
            finally:
                book.close()
    except InputError:
        raise
    except Exception:  # a broken or hostile workbook can make the library fail in any way
        raise InputError(
            _(
                "This workbook cannot be read. Open it in a spreadsheet and save it again as XLSX, or as CSV UTF-8."
            )
        ) from None


def _inspected(raw: bytes) -> int:
    """How many formulas its sheets hold. Raises InputError for what is no workbook, or could do harm."""
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            parts = archive.infolist()
            names = {part.filename for part in parts}
            if "[Content_Types].xml" not in names or "xl/workbook.xml" not in {
                name.lower() for name in names
            }:
                raise InputError(_("This is no XLSX workbook. Save it as XLSX or as CSV UTF-8."))
            if len(parts) > MOST_PARTS or sum(part.file_size for part in parts) > MOST_UNPACKED:
                raise InputError(
                    _(
                        "This workbook is too large once it is unpacked. Copy the rows that you need to a new one."
                    )
                )
            if any(name.lower().endswith("vbaproject.bin") for name in names):
                raise _macros()
            return sum(_formulas_of(archive, part) for part in parts)
    except (*DAMAGED_ZIP, OSError, ValueError):
        raise InputError(
            _("This workbook is damaged or protected. Save it again without a password.")
        ) from None


def _formulas_of(archive: zipfile.ZipFile, part: zipfile.ZipInfo) -> int:
    if not part.filename.lower().endswith((".xml", ".rels")):
        return 0
    xml = archive.read(part)
    if _DOCUMENT_TYPE.search(xml):
        raise InputError(
            _("This workbook declares a document type, which none needs. Save it again as XLSX.")
        )
    if part.filename == "[Content_Types].xml" and b"macroEnabled" in xml:
        raise _macros()
    return len(_FORMULA.findall(xml)) if part.filename.lower().startswith("xl/worksheets/") else 0


def _macros() -> InputError:
    return InputError(_("This workbook holds macros. Save it without them, as XLSX, and choose that file."))


def _sheet_of(book: Any, formulas: int, decimal_comma: bool, wanted: str) -> Sheet:
    notes = []
    if formulas:
        notes.append(
            ngettext(
                "{n} formula was read as the value that the spreadsheet last worked out.",
                "{n} formulas were read as the values that the spreadsheet last worked out.",
                formulas,
                n=formulas,
            )
        )
    visible = [sheet for sheet in book.worksheets if sheet.sheet_state == "visible"] or book.worksheets
    names = tuple(sheet.title for sheet in visible)
    usual, lines = _usual_sheet(visible, decimal_comma)
    if wanted and wanted not in names:
        raise InputError(
            _("No sheet is called “{name}”. Use {names}.", name=wanted[:60], names=", ".join(names))
        )
    name = wanted or usual
    if name != usual:
        lines = tuple(_lines_of(visible[names.index(name)], decimal_comma))
    if len(book.worksheets) > 1 and lines:
        notes.append(_("Only the sheet “{name}” was read.", name=name))
    return Sheet(lines, tuple(notes), names, name, is_other=name != usual)


def _usual_sheet(sheets: Sequence[Any], decimal_comma: bool) -> tuple[str, tuple[Line, ...]]:
    """The first sheet that holds rows below a heading, or else the first that holds anything, with its lines."""
    first: tuple[str, tuple[Line, ...]] = ("", ())
    for sheet in sheets:
        lines = tuple(_lines_of(sheet, decimal_comma))
        if len(lines) > 1:
            return sheet.title, lines
        if lines and not first[1]:
            first = (sheet.title, lines)
    return first


def _lines_of(sheet: Any, decimal_comma: bool) -> Iterator[Line]:
    """Its lines, numbers written as its texts write them: somebody may have typed 5,38 € beside them."""
    rows = list(_rows_of(sheet))
    typed = [Line(number, tuple(each for each in cells if isinstance(each, str))) for number, cells in rows]
    comma = marks_of(typed, usual=decimal_comma).decimal_comma
    for number, cells in rows:
        yield line_of(number, [_text_of(value, comma) for value in cells])


def _rows_of(sheet: Any) -> Iterator[tuple[int, tuple[Any, ...]]]:
    """The rows that are not blank, by their numbers."""
    sheet.reset_dimensions()  # a sheet may claim any size
    blank = found = 0
    for number, cells in enumerate(sheet.iter_rows(max_col=MOST_COLUMNS, values_only=True), start=1):
        is_blank = all(value is None or not str(value).strip() for value in cells)
        blank = blank + 1 if is_blank else 0
        if blank > MOST_BLANK:
            return
        if not blank:
            found += 1
            if found > MOST_LINES:
                raise too_many_lines()
            yield number, cells


def _text_of(value: Any, decimal_comma: bool) -> str:
    """A value as it would be typed: days as 2026-03-12, numbers without what binary fractions add to them."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    if isinstance(value, float | int):
        number = Decimal(f"{value:.{_DIGITS}g}") if isinstance(value, float) else Decimal(value)
        text = f"{number:f}"
        text = text.rstrip("0").rstrip(".") if "." in text else text
        if len(text.partition(".")[2]) == 3:
            text += "0"  # a number is no thousand, whatever its three decimals look like
        return text.replace(".", ",") if decimal_comma else text
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == time() else value.isoformat(sep=" ")
    if isinstance(value, date):
        return value.isoformat()
    return str(value)
