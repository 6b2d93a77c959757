"""Lists as files for a spreadsheet: text that can never run as a formula, numbers that stay numbers."""

import csv
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from decimal import Decimal
from io import StringIO

from django.http import HttpResponse

from studio.values.cell_text import safe_text
from studio.values.money import money_input_text, round_to_minor

Cell = str | int | Decimal | date | None  # a moment is a date, too: local time without a zone

CSV, XLSX = "csv", "xlsx"


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


def file_answer(kind: str, name: str, head: Sequence[str], rows: Iterable[Sequence[Cell]]) -> HttpResponse:
    """A list as a file to keep, CSV or XLSX. The mark at the start of CSV tells a spreadsheet that it is UTF-8."""
    if kind == XLSX:
        from studio.pages.workbooks import workbook  # loads slowly, and is seldom asked for

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


def _cell(value: Cell) -> str | int | Decimal:
    if isinstance(value, str):
        return safe_text(value)
    if isinstance(value, datetime):
        return value.isoformat(sep=" ", timespec="minutes")
    if isinstance(value, date):
        return value.isoformat()
    return "" if value is None else value
