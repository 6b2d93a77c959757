"""Lists as files for a spreadsheet: text that can never run as a formula, numbers that stay numbers."""

import csv
from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from io import StringIO

from django.http import HttpResponse

from studio.values.money import money_input_text, round_to_minor

Cell = str | int | Decimal | date | None

# A spreadsheet may take a cell that begins with one of these, plain or full-width, for a formula.
FORMULA_SIGNS = tuple("=+-@＝＋－＠\t\r\n")
SPACES = " \u00a0"


def safe_text(text: str) -> str:
    """Text as a spreadsheet may read it: behind an apostrophe where it would begin like a formula."""
    text = text.replace("\0", "")
    return f"'{text}" if text.lstrip(SPACES).startswith(FORMULA_SIGNS) else text


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


def csv_answer(name: str, head: Sequence[str], rows: Iterable[Sequence[Cell]]) -> HttpResponse:
    """The same as a file to keep. The mark at its start tells a spreadsheet that it is UTF-8."""
    return HttpResponse(
        csv_text(head, rows).encode("utf-8-sig"),
        content_type="text/csv; charset=utf-8",
        headers={
            "Content-Disposition": f'attachment; filename="{name}.csv"',
            "X-Content-Type-Options": "nosniff",
        },
    )


def _cell(value: Cell) -> str | int | Decimal:
    if isinstance(value, str):
        return safe_text(value)
    if isinstance(value, date):
        return value.isoformat()
    return "" if value is None else value
