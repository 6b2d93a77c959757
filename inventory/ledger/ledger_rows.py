"""Rows of the ledger as they are streamed from the database when the books are checked."""

from collections.abc import Sequence
from datetime import date, datetime
from functools import cache
from typing import NamedTuple


class EntryRow(NamedTuple):
    """One entry as it is streamed from the database. Its day may be text (ISO 8601), which is the same in a seal."""

    posting_id: int
    line: int
    place: str
    material_id: int
    lot_id: int | None
    mix_id: int | None
    pour_id: int | None
    reason_id: int | None
    quantity: int
    money: int
    role: str
    effective_on: date | str


QUANTITY = EntryRow._fields.index("quantity")  # streamed rows are plain tuples


@cache
def _day(written: date | str) -> date:
    """Many entries share a day: each is read once."""
    return date.fromisoformat(written) if isinstance(written, str) else written


class Entries(NamedTuple):
    """A posting's entries, column by column: whole columns are compared much faster than row after row."""

    posting_id: tuple[int, ...]
    line: tuple[int, ...]
    place: tuple[str, ...]
    material_id: tuple[int, ...]
    lot_id: tuple[int | None, ...]
    mix_id: tuple[int | None, ...]
    pour_id: tuple[int | None, ...]
    reason_id: tuple[int | None, ...]
    quantity: tuple[int, ...]
    money: tuple[int, ...]
    role: tuple[str, ...]
    effective_on: tuple[date, ...]

    @classmethod
    def of(cls, rows: Sequence[EntryRow]) -> "Entries":
        if not rows:
            return cls(*[()] * len(cls._fields))
        columns = cls(*zip(*rows, strict=True))
        return columns._replace(effective_on=tuple(map(_day, columns.effective_on)))


class PostingRow(NamedTuple):
    number: int
    kind: str
    effective_on: date
    recorded_at: datetime
    recorded_by_id: int
    note: str
    key: str
    fingerprint: str
    reverses_id: int | None
    corrects_id: int | None
    confirmed: object
    lines: int
    previous_hash: str
    hash: str


class LotFacts(NamedTuple):
    material: int
    received_on: date
