"""The rows of a table as they would be saved."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

from django.utils.translation import gettext_lazy

from studio.imports.checking import CheckedRow, OpenTable, RowState
from studio.imports.kinds import ImportKind
from studio.pages.columns import Badge, Column, NumberColumn
from studio.pages.tables import Table

BADGES: dict[RowState, Badge] = {
    RowState.NEW: ("good", gettext_lazy("New")),
    RowState.THERE: ("note", gettext_lazy("Already there")),
    RowState.WRONG: ("stop", gettext_lazy("Problem")),
}


@dataclass
class CheckedTable(Table[CheckedRow]):
    """Each row as it was read, in the columns that the table has."""

    caption = gettext_lazy("Rows as they would be saved")

    open_table: OpenTable[ImportKind] | None = None

    def row_css(self, row: CheckedRow) -> str:
        return "is-low" if row.state is RowState.WRONG else ""

    @cached_property
    def visible(self) -> list[Column[CheckedRow]]:
        table = self.open_table
        if table is None:
            return []
        labels = table.kind.labels
        given = {key for row in self.rows for key, text in row.words.items() if text}
        return [
            NumberColumn(
                "line", gettext_lazy("Line"), lambda row: row.line.number, badge=lambda row: BADGES[row.state]
            ),
            *(
                Column(column.key, column.label, _words(column.key))
                for column in table.kind.columns
                if column.key in given
            ),
            Column("problems", gettext_lazy("What to change"), lambda row: " ".join(row.located(labels))),
        ]


def _words(key: str) -> Callable[[CheckedRow], str]:
    return lambda row: row.words.get(key, "")
