"""Lists as files for a spreadsheet: text that can never run as a formula, numbers that stay numbers."""

import csv
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from decimal import Decimal
from io import BytesIO, StringIO

from django.http import HttpResponse
from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
from openpyxl.cell.cell import Cell as OpenCell
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter
from openpyxl.worksheet._write_only import WriteOnlyWorksheet

from studio.values.cell_text import looks_like_formula, safe_text
from studio.values.money import money_input_text, round_to_minor

Cell = str | int | Decimal | date | None  # a moment is a date, too: local time without a zone

CSV, XLSX = "csv", "xlsx"
NARROWEST, WIDEST = 8, 60  # of a column in a workbook, in characters
MOST_EXACT = 10**15  # a spreadsheet keeps fifteen digits of a number; anything longer is a text
FIRST_YEAR = 1900  # of a workbook's calendar


def money_cell(amount: int | None, currency: str) -> Decimal | None:
    """Millionths as a plain number in the currency's own decimals: 45.00, never "£45.00"."""
    return None if amount is None else Decimal(money_input_text(round_to_minor(amount, currency), currency))


def csv_text(head: Sequence[str], rows: Iterable[Sequence[Cell]]) -> str:
    """Comma-separated values as RFC 4180 writes them, every text in quotes, days as 2026-03-12."""
    out = StringIO()
    # Unquoted text could be cut where a spreadsheet splits at semicolons, and its second half begin a formula.
    writer = csv.writer(out, quoting=csv.QUOTE_NONNUMERIC)
    writer.writerow([safe_text(name) for name in head])
    for row in rows:
        writer.writerow([_cell(value) for value in row])
    return out.getvalue()


def workbook(name: str, head: Sequence[str], rows: Iterable[Sequence[Cell]]) -> bytes:
    """The same as an Office Open XML workbook (ISO/IEC 29500) of one sheet: numbers and days as such, never a formula.

    Its first row is bold and stays in sight.
    """
    lines = [list(row) for row in rows]
    book = Workbook(write_only=True)
    sheet = book.create_sheet(name[:31])
    sheet.freeze_panes = "A2"
    for place in range(len(head)):
        texts = (str(line[place]) for line in lines if place < len(line) and line[place] is not None)
        width = max(len(head[place]), max(map(len, texts), default=0)) + 2
        sheet.column_dimensions[get_column_letter(place + 1)].width = min(max(width, NARROWEST), WIDEST)
    sheet.append([_typed_cell(sheet, name, is_bold=True) for name in head])
    for line in lines:
        sheet.append([_typed_cell(sheet, value) for value in line])
    out = BytesIO()
    book.save(out)
    return out.getvalue()


def file_answer(kind: str, name: str, head: Sequence[str], rows: Iterable[Sequence[Cell]]) -> HttpResponse:
    """A list as a file to keep, CSV or XLSX. The mark at the start of CSV tells a spreadsheet that it is UTF-8."""
    if kind == XLSX:
        content = workbook(name, head, rows)
        content_type = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
    else:
        content, content_type = csv_text(head, rows).encode("utf-8-sig"), "text/csv; charset=utf-8"
    return HttpResponse(
        content,
        content_type=content_type,
        headers={
            "Content-Disposition": f'attachment; filename="{name}.{kind}"',
            "X-Content-Type-Options": "nosniff",
        },
    )


def _typed_cell(sheet: WriteOnlyWorksheet, value: Cell, *, is_bold: bool = False) -> OpenCell:
    """A number or day as such. Any other value is a text, and said to be one: it could look like a formula."""
    cell: OpenCell = WriteOnlyCell(sheet)
    if (text := _as_text(value)) is not None:
        cell.value = ILLEGAL_CHARACTERS_RE.sub("", text)
        cell.data_type = "s"
        cell.quotePrefix = looks_like_formula(text)  # so it stays one once somebody edits it
    else:
        cell.value = value
        cell.number_format = _number_format(value)
    if is_bold:
        cell.font = Font(bold=True)
    return cell


def _as_text(value: Cell) -> str | None:
    """What a workbook keeps as a text: text, and what its numbers and its calendar have no room for."""
    if isinstance(value, date):
        return value.isoformat() if value.year < FIRST_YEAR else None
    if isinstance(value, int | Decimal):
        return None if -MOST_EXACT < value < MOST_EXACT else str(value)
    return value


def _number_format(value: Cell) -> str:
    if isinstance(value, date):
        return "yyyy-mm-dd hh:mm" if isinstance(value, datetime) else "yyyy-mm-dd"
    places = max(-int(value.as_tuple().exponent), 0) if isinstance(value, Decimal) else 0
    return f"0.{'0' * places}" if places else "General"


def _cell(value: Cell) -> str | int | Decimal:
    if isinstance(value, str):
        return safe_text(value)
    if isinstance(value, datetime):
        return value.isoformat(sep=" ", timespec="minutes")
    if isinstance(value, date):
        return value.isoformat()
    return "" if value is None else value
