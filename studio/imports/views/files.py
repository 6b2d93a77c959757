"""Tables to download: an example, what is recorded already, and the rows that could not be saved."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django.http import HttpResponse

from studio.imports.checking import CheckedRow, OpenTable, RowState
from studio.imports.kinds import ImportKind, TableKind
from studio.pages.exports import CSV, Cell, file_answer, money_cell
from studio.preferences.models import Studio
from studio.translation import _


def table_file(
    kind: TableKind, rows: Sequence[Mapping[str, Any]], studio: Studio, *, name: str, form: str
) -> HttpResponse:
    """Rows in the columns of a kind, without those that no row fills. Money is in millionths of its currency."""
    columns = [
        column for column in kind.columns if any(row.get(column.key) not in (None, "") for row in rows)
    ]

    def cell(row: Mapping[str, Any], key: str, is_money: bool) -> Cell:
        value = row.get(key)
        return money_cell(value, row.get("currency") or studio.currency) if is_money else value

    cells = ([cell(row, column.key, column.is_money) for column in columns] for row in rows)
    return file_answer(form, name, [str(column.label) for column in columns], cells)


def failed_rows(table: OpenTable[ImportKind], rows: Iterable[CheckedRow]) -> HttpResponse:
    """The rows that could not be saved, each with what to change: put right, it can be imported."""
    labels, width = table.kind.labels, len(table.headings.line.cells)
    failed = [row for row in rows if row.state is RowState.WRONG]
    cells = [
        [*row.line.cells[:width], *[""] * (width - len(row.line.cells)), " ".join(row.located(labels))]
        for row in failed
    ]
    return file_answer(
        CSV, f"{table.kind.code}-problems", [*table.headings.line.cells, _("What to change")], cells
    )
