"""Lists as workbooks, Office Open XML (ISO/IEC 29500): numbers and days as such, text that never runs as a formula."""

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from decimal import Decimal
from io import BytesIO

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
from openpyxl.cell.cell import Cell as OpenCell
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter
from openpyxl.worksheet._write_only import WriteOnlyWorksheet

from studio.pages.exports import Cell
from studio.values.cell_text import looks_like_formula

NARROWEST, WIDEST = 8, 60  # of a column in a workbook, in characters
MOST_EXACT = 10**15  # a spreadsheet keeps fifteen digits of a number; anything longer is a text
FIRST_YEAR = 1900  # of a workbook's calendar


def workbook(name: str, head: Sequence[str], rows: Iterable[Sequence[Cell]]) -> bytes:
    """A workbook of one sheet.

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
