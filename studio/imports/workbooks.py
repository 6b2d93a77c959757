"""The first sheet of an XLSX workbook as lines of text. Bombs and macros are refused, formulas read as last worked out.

A workbook is a ZIP archive of XML (ISO/IEC 29500). Its sizes are looked at before anything is unpacked, and its XML
may declare no document type, through which entities could grow without end or reach outside.
"""

import io
import re
import warnings
import zipfile
from collections.abc import Iterator
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any

from openpyxl import load_workbook

from studio.errors import InputError
from studio.imports.reading import MOST_COLUMNS, MOST_LINES, Line, Sheet, line_of, too_many_lines
from studio.translation import _, ngettext

MOST_PARTS = 500
MOST_UNPACKED = 40_000_000  # bytes of all parts together
MOST_BLANK = 2_000  # lines in a row, before a sheet counts as ended
_DOCUMENT_TYPE = re.compile(rb"<\0?!\0?(?:D\0?O\0?C\0?T\0?Y\0?P\0?E|E\0?N\0?T\0?I\0?T\0?Y)", re.IGNORECASE)
_FORMULA = re.compile(rb"<(?:\w+:)?f[ >/]")
_DIGITS = 15  # that a spreadsheet keeps of a number


def read_workbook(raw: bytes, *, decimal_comma: bool) -> Sheet:
    """The lines of the first sheet that holds something. Raises InputError."""
    formulas = _inspected(raw)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # what the library has to say of styles is of no use here
            book = load_workbook(io.BytesIO(raw), read_only=True, data_only=True, keep_links=False)
            try:
                return _first_sheet(book, formulas, decimal_comma)
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
    except (zipfile.BadZipFile, EOFError, RuntimeError, NotImplementedError, OSError, ValueError):
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


def _first_sheet(book: Any, formulas: int, decimal_comma: bool) -> Sheet:
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
    for sheet in visible:
        if lines := tuple(_lines_of(sheet, decimal_comma)):
            if len(book.worksheets) > 1:
                notes.append(_("Only the sheet “{name}” was read.", name=sheet.title))
            return Sheet(lines, tuple(notes))
    return Sheet((), tuple(notes))


def _lines_of(sheet: Any, decimal_comma: bool) -> Iterator[Line]:
    sheet.reset_dimensions()  # a sheet may claim any size
    blank = found = 0
    for number, cells in enumerate(sheet.iter_rows(max_col=MOST_COLUMNS, values_only=True), start=1):
        texts = [_text_of(value, decimal_comma) for value in cells]
        blank = 0 if any(texts) else blank + 1
        if blank > MOST_BLANK:
            return
        if not blank:
            found += 1
            if found > MOST_LINES:
                raise too_many_lines()
            yield line_of(number, texts)


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
        return text.replace(".", ",") if decimal_comma else text
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == time() else value.isoformat(sep=" ")
    if isinstance(value, date):
        return value.isoformat()
    return str(value)
