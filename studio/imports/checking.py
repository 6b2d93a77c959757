"""A table opened as one kind of import: its columns matched, and every row read as it would be saved."""

import hashlib
import json
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from typing import Any, Generic, TypeVar

from studio.errors import InputError, MeniscusError
from studio.imports.cells import Cells, reading_formatter
from studio.imports.headings import (
    LEFT_OUT,
    Headings,
    day_order_of,
    find_headings,
    marks_of,
    plain,
    rows_below,
)
from studio.imports.kinds import ImportKind, RowReader, TableKind
from studio.imports.reading import Line, Sheet
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.translation import _, noop

Kind = TypeVar("Kind", bound=TableKind)
ORDER_NOTES = {
    "dmy": noop("Its dates were read with the day first: 3/4/2026 is 3 April."),
    "mdy": noop("Its dates were read with the month first: 3/4/2026 is 4 March."),
}


class RowState(StrEnum):
    """What would become of a row."""

    NEW = "new"
    THERE = "there"  # recorded already
    WRONG = "wrong"


@dataclass(frozen=True, slots=True)
class OpenTable(Generic[Kind]):
    """A table with its headings matched. `fixed` are values for all rows, by the keys of columns that it lacks."""

    kind: Kind
    studio: Studio
    today: date
    headings: Headings
    rows: Sequence[Line]
    notes: Sequence[str]
    decimal_comma: bool
    point_groups: bool
    doubtful_marks: str  # before which three digits may be decimals or thousands
    day_order: str
    fixed: Mapping[str, str] = field(default_factory=dict)
    may_add: bool = False  # whether what its rows name and nobody knows can be added, and whether it shall be
    add_new: bool = False

    @property
    def missing(self) -> list[str]:
        """Labels of the columns that it needs and lacks."""
        given = {key for key in self.headings.keys if key} | {key for key, text in self.fixed.items() if text}
        return [
            str(column.label)
            for column in self.kind.columns
            if column.required and not given & {column.key, column.instead}
        ]

    @property
    def meant(self) -> dict[str, str]:
        """What its headings mean, to be remembered."""
        return {
            plain(text): key for text, key in zip(self.headings.line.cells, self.headings.keys, strict=True)
        }

    def texts(self, line: Line) -> dict[str, str]:
        """A row's cells by the keys of their columns."""
        found = {key: text for key, text in self.fixed.items() if text}
        found.update(
            {key: text for key, text in zip(self.headings.keys, line.cells, strict=False) if key and text}
        )
        return found

    def cells(self) -> Iterator[tuple[Line, Cells]]:
        """Every row's cells, ready to be read, each with its key."""
        days = Formatter.of(self.studio)
        numbers = reading_formatter(days, decimal_comma=self.decimal_comma)
        bracketed, before = self.headings.bracketed, Counter[tuple[str, ...]]()
        for line in self.rows:
            before[line.cells] += 1  # two bottles that are alike are two rows
            key = row_key(self.kind.code, line.cells, before[line.cells])
            yield (
                line,
                Cells(
                    self.texts(line),
                    numbers,
                    days,
                    key,
                    bracketed,
                    point_groups=self.point_groups,
                    doubtful_marks=self.doubtful_marks,
                    day_order=self.day_order,
                ),
            )


def row_key(kind: str, cells: Sequence[str], time: int) -> str:
    """A key for one row out of its contents, and for the how manieth time that it stands in its table."""
    return hashlib.sha256(json.dumps([kind, cells, time]).encode()).hexdigest()[:40]


def reader_of(table: OpenTable[ImportKind]) -> RowReader:
    """What reads and saves the rows of a table."""
    more = {"may_add": table.may_add, "add_new": table.add_new} if table.kind.can_add else {}
    return table.kind.reader(table.studio, table.today, **more)


def _as_chosen(headings: Headings, chosen: Mapping[int, str], known: Mapping[str, str]) -> Headings:
    """Headings with the columns that were chosen by place. Raises InputError for one that is chosen twice."""
    keys = [chosen.get(place, key) for place, key in enumerate(headings.keys)]
    keys = [key if key in known else LEFT_OUT for key in keys]
    twice = [known[key] for key, count in Counter(keys).items() if key and count > 1]
    if twice:
        raise InputError(_("“{column}” is chosen for two columns. Choose one of them.", column=twice[0]))
    return Headings(headings.line, tuple(keys))


def open_table(
    kind: Kind,
    sheet: Sheet,
    *,
    studio: Studio,
    today: date,
    remembered: Mapping[str, str],
    chosen: Mapping[int, str] | None = None,
    fixed: Mapping[str, str] | None = None,
) -> OpenTable[Kind]:
    """Match a sheet's headings: as `chosen` by place, else as remembered, else by name.

    Raises InputError for a column that is chosen twice, and where there is no row below the headings.
    """
    meanings = kind.meanings(sheet.lines) if kind.meanings else {}
    headings = find_headings(
        sheet.lines, [column.wanted for column in kind.columns], {**meanings, **remembered}
    )
    if chosen:
        headings = _as_chosen(headings, chosen, kind.labels)
    rows, left_out = rows_below(sheet.lines, headings)
    if not rows:
        raise InputError(_("There are no rows below the headings. Add at least one."))
    notes = list(sheet.notes)
    if headings.line.number > 1:
        notes.append(_("The headings were found in line {line}.", line=headings.line.number))
    notes += [
        _("Line {line} is a total or repeats the headings: left out.", line=line.number) for line in left_out
    ]
    usual = Formatter.of(studio).decimal_comma
    marks = marks_of(rows, usual=usual)
    comma = marks.decimal_comma
    numbers = reading_formatter(Formatter.of(studio), decimal_comma=comma)
    point_groups = numbers.groups_by_point and marks.has_point_groups(rows)
    if comma != usual:
        notes.append(
            _("Its numbers were read with a decimal comma.")
            if comma
            else _("Its numbers were read with a decimal point.")
        )
    if point_groups:
        notes.append(_("Its points were read as marks between thousands: 1.000 is a thousand, not one."))
    order = day_order_of(rows, usual=Formatter.of(studio).day_order)
    if order != Formatter.of(studio).day_order and order in ORDER_NOTES:
        notes.append(_(ORDER_NOTES[order]))
    if kind.gather:
        rows = kind.gather(rows, headings.keys)
    taken = {key for key in headings.keys if key}
    kept = {
        key: text.strip() for key, text in (fixed or {}).items() if key in kind.labels and key not in taken
    }
    return OpenTable(
        kind, studio, today, headings, rows, notes, comma, point_groups, marks.doubtful, order, kept
    )


@dataclass(frozen=True, slots=True)
class CheckedRow:
    """One row, what would become of it, and how it was read (by the keys of columns); or everything wrong with it."""

    line: Line
    state: RowState
    words: Mapping[str, str]
    problems: tuple[InputError, ...] = ()
    adds: str = ""  # the name of what it would add besides

    def located(self, labels: Mapping[str, str]) -> list[str]:
        """Each problem with the label of its column."""
        return [
            _("{column}: {problem}", column=labels[each.field or ""], problem=each)
            if each.field in labels
            else str(each)
            for each in self.problems
        ]


def check(table: OpenTable[ImportKind]) -> list[CheckedRow]:
    """Read every row as it would be saved. Writes nothing."""
    reader, formatter = reader_of(table), Formatter.of(table.studio)
    return [checked_row(reader, line, cells, formatter)[0] for line, cells in table.cells()]


def checked_row(
    reader: RowReader, line: Line, cells: Cells, formatter: Formatter, *, keeps: bool = True
) -> tuple[CheckedRow, Any]:
    """One row and its facts, None where something is wrong with it. With `keeps`, later rows know of it."""
    try:
        facts = reader.read(cells)
    except MeniscusError as problem:
        return wrong_row(line, cells, problem), None
    state = RowState.THERE if reader.is_there(facts) else RowState.NEW
    words = {**cells.texts, **reader.words(facts, formatter)}
    if keeps and state is RowState.NEW:
        reader.keep(facts)
    return CheckedRow(line, state, words, adds=cells.new), facts


def with_problems(rows: list[CheckedRow], wrong: Iterable[CheckedRow]) -> list[CheckedRow]:
    """Rows, and those among them that could not be saved with what stood in the way."""
    by_line = {row.line.number: row for row in wrong}
    return [by_line.get(row.line.number, row) for row in rows]


def wrong_row(line: Line, cells: Cells, problem: MeniscusError) -> CheckedRow:
    """A row that cannot be saved as it is."""
    problems = problem.problems if isinstance(problem, InputError) else (InputError(str(problem)),)
    return CheckedRow(line, RowState.WRONG, cells.texts, problems, cells.new)
