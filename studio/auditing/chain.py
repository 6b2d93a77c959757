"""The change log's chain: each transaction's entries are sealed by a SHA-256 over them and over the seal before.

The seal is the last thing that a transaction writes, so that whoever waits for the chain holds everything else that
they need already, and no two can wait for each other. What is read here is read back from the database: a hash over
what was meant could differ from one over what stands.
"""

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import UTC
from hashlib import sha256
from itertools import islice
from typing import Any

from auditlog.models import LogEntry
from django.db import connection, transaction

from studio.auditing.models import ChangeSeal
from studio.translation import _

FIRST_LINK = "0" * 64
ENTRIES_AT_A_TIME = 5_000
SEALS_AT_A_TIME = 500
LOCK = 0x6368616E  # of the chain's end, on PostgreSQL; any number that nothing else takes
COLUMNS = (
    "pk", "content_type__app_label", "content_type__model", "object_pk", "object_repr", "action", "changes",
    "actor_id", "timestamp", "additional_data",
)  # fmt: skip
Row = tuple[Any, ...]

_unsealed: ContextVar[list[int] | None] = ContextVar("entries of this transaction", default=None)


@contextmanager
def sealing() -> Iterator[None]:
    """Seal at the end what is written into the change log within: inside a transaction; one in another joins it."""
    if _unsealed.get() is not None:
        yield
        return
    made: list[int] = []
    token = _unsealed.set(made)
    try:
        yield
    finally:
        _unsealed.reset(token)
    if not connection.needs_rollback:  # a dry run
        _seal(made)


def note(sender: object, instance: LogEntry, raw: bool = False, **kwargs: object) -> None:
    """Have a new entry sealed: with its transaction's others, or at once where nobody gathers them."""
    made = _unsealed.get()
    if raw:
        return
    if made is not None:
        made.append(instance.pk)
        return
    with transaction.atomic():
        _seal([instance.pk])


def breaks(using: str = "default") -> Iterator[tuple[str, str]]:
    """What is wrong with the chain, as where and what: seals and entries that were changed, taken out or put in."""
    link, sealed = FIRST_LINK, set[int]()
    seals = ChangeSeal.objects.using(using).order_by("number").iterator(SEALS_AT_A_TIME)
    expected = 0
    while some := list(islice(seals, SEALS_AT_A_TIME)):
        rows = _rows([number for seal in some for number in seal.entries], using)
        for seal in some:
            expected += 1
            where = _("seal {number} of the change log", number=seal.pk)
            if seal.pk != expected:
                yield where, _("{number} comes next", number=expected)
                expected = seal.pk
            if again := sealed.intersection(seal.entries):
                yield where, _("change {number} is sealed already", number=min(again))
            sealed.update(seal.entries)
            if seal.hash != _link(link, seal.pk, [rows.get(number) for number in seal.entries]):
                yield where, _("it does not fit its changes and the seal before")
            link = seal.hash
    for number in LogEntry.objects.using(using).order_by("pk").values_list("pk", flat=True).iterator():
        if number not in sealed:
            yield _("change {number}", number=number), _("it has no seal")


def _seal(numbers: Iterable[int]) -> None:
    """Write the next links over these entries; those that were undone again are left out."""
    numbers = sorted(set(numbers))
    if not numbers:
        return
    if connection.vendor == "postgresql":  # on SQLite, whoever writes shuts out every other
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [LOCK])
    last = ChangeSeal.objects.order_by("-number").values_list("number", "hash").first()
    number, link = last or (0, FIRST_LINK)
    for start in range(0, len(numbers), ENTRIES_AT_A_TIME):
        rows = _rows(numbers[start : start + ENTRIES_AT_A_TIME])
        if rows:
            number += 1
            link = _link(link, number, list(rows.values()))
            ChangeSeal.objects.create(number=number, entries=list(rows), hash=link)


def _rows(numbers: Sequence[int], using: str = "default") -> Mapping[int, Row]:
    """Entries by their number, in order; those that are not there are left out."""
    found: dict[int, Row] = {}
    for start in range(0, len(numbers), ENTRIES_AT_A_TIME):
        part = numbers[start : start + ENTRIES_AT_A_TIME]
        entries = LogEntry.objects.using(using).filter(pk__in=part).order_by("pk")
        found |= {row[0]: row for row in entries.values_list(*COLUMNS)}
    return found


def _link(before: str, number: int, rows: Sequence[Row | None]) -> str:
    """The seal over these entries and everything before them."""
    content = json.dumps([before, number, [row and _plain(row) for row in rows]], sort_keys=True)
    return sha256(content.encode()).hexdigest()


def _plain(row: Row) -> list[Any]:
    *others, at, more = row
    return [*others, at.astimezone(UTC).isoformat(timespec="microseconds"), more]
