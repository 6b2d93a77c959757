"""Saves the rows of a table, some at a time: each through the actions of its room, or not at all."""

from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager, ExitStack
from dataclasses import dataclass, field
from itertools import islice

from django.db import transaction as database

from studio.errors import MeniscusError
from studio.imports.checking import CheckedRow, OpenTable, RowState, checked_row, reader_of, wrong_row
from studio.imports.kinds import ImportKind, Made, RowReader
from studio.imports.models import RememberedHeadings
from studio.preferences.formatting import Formatter
from studio.submission import Submission, transaction

ROWS_AT_ONCE = 500
Around = Callable[..., AbstractContextManager[None]]
_AROUND: list[Around] = []


def register(around: Around) -> None:
    """Save each part inside this context (it is given `at`): a floor above gathers there what follows from its rows."""
    _AROUND.append(around)


@dataclass(slots=True)
class Saved:
    """What became of rows. `next` is the place of the row to go on with; None at the end."""

    saved: int = 0
    there: int = 0
    made: list[Made] = field(default_factory=list)
    wrong: list[CheckedRow] = field(default_factory=list)
    next: int | None = None


def remember(table: OpenTable[ImportKind], *, submission: Submission) -> None:
    """Know for the next file what the headings of this one mean."""
    with transaction(submission):
        RememberedHeadings.remember(table.kind.code, table.meant)


def save_rows(
    table: OpenTable[ImportKind],
    *,
    submission: Submission,
    start: int = 0,
    most: int = ROWS_AT_ONCE,
    good_only: bool = False,
    reader: RowReader | None = None,
) -> Saved:
    """Save up to `most` rows from `start` on in one transaction, and remember what the headings meant.

    A row that is recorded already is left alone. Without `good_only`, a row that cannot be saved ends it: nothing of
    this part is written, and `wrong` says why.
    """
    done = Saved()
    with transaction(submission), ExitStack() as stack:
        for around in _AROUND:
            stack.enter_context(around(at=submission.at))
        RememberedHeadings.remember(table.kind.code, table.meant)
        places = range(start, start + most)
        rows = _save_each(table, reader or reader_of(table), submission, places, done.made)
        done.wrong = [row for row in rows if row.state is RowState.WRONG]
        if done.wrong and not good_only:
            database.set_rollback(True)
            done.made.clear()
            return done
    done.saved = sum(row.state is RowState.NEW for row in rows)
    done.there = sum(row.state is RowState.THERE for row in rows)
    done.next = start + most if start + most < len(table.rows) else None
    return done


def _save_each(
    table: OpenTable[ImportKind], reader: RowReader, submission: Submission, places: range, made: list[Made]
) -> Sequence[CheckedRow]:
    formatter = Formatter.of(table.studio)
    rows = []
    for line, cells in islice(table.cells(), places.start, places.stop):
        row, facts = checked_row(reader, line, cells, formatter, keeps=False)
        if row.state is RowState.NEW:
            try:
                with database.atomic():
                    label = reader.save(facts, submission)
                reader.keep(facts)
                made += [label] if label else []
            except MeniscusError as problem:
                row = wrong_row(line, cells, problem)
        rows.append(row)
    return rows


def save_all(
    table: OpenTable[ImportKind], *, submission: Submission, start: int = 0, good_only: bool = False
) -> Saved:
    """Save every row from `start` on, part by part. What was saved before a part that cannot be saved stays."""
    total = Saved()
    reader = reader_of(table)  # which reads what there is once, and keeps up with it
    while True:
        part = save_rows(table, submission=submission, start=start, good_only=good_only, reader=reader)
        total.saved += part.saved
        total.there += part.there
        total.made += part.made
        total.wrong += part.wrong
        if part.next is None:
            return total
        start = part.next
