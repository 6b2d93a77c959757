"""The chain over everything that is written: each transaction's rows are sealed with the seal before.

A seal names every row that its transaction wrote, entries of the change log among them, each with the digest of what
it says from then on, or with none once it is gone. So what a row says must be what the last seal that names it says.
The seal is the last thing that a transaction writes, so that whoever waits for the chain holds everything else that
they need already, and no two can wait for each other. What is sealed is read back from the database: a digest of what
was meant could differ from one of what stands.
"""

import json
from collections import defaultdict
from collections.abc import Collection, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from hashlib import sha256

from django.db import DEFAULT_DB_ALIAS, connections, transaction
from django.db.models import Model

from studio.auditing.models import ChangeSeal
from studio.auditing.sealed_rows import Sealed, digests, sealed
from studio.translation import _

FIRST_LINK = "0" * 64
ROWS_AT_A_TIME = 5_000  # of one seal, and of one statement
SEALS_AT_A_TIME = 500
LOCK = 0x6368616E  # of the chain's end, on PostgreSQL; any number that nothing else takes

Touched = dict[Sealed, set[int]]
Rows = dict[str, dict[str, str | None]]  # by what is sealed and number: digests, none of a row that is gone
Latest = dict[str, dict[int, str | None]]

_unsealed: ContextVar[tuple[Touched, Touched] | None] = ContextVar("rows of this transaction", default=None)


@contextmanager
def sealing() -> Iterator[None]:
    """Seal at the end the rows that are written within: inside a transaction; one in another joins it."""
    if _unsealed.get() is not None:
        yield
        return
    touched: tuple[Touched, Touched] = defaultdict(set), defaultdict(set)
    token = _unsealed.set(touched)
    try:
        yield
    finally:
        _unsealed.reset(token)
    if not connections[DEFAULT_DB_ALIAS].needs_rollback:  # a dry run
        _seal(*touched, DEFAULT_DB_ALIAS)


def wrote(
    model: type[Model], numbers: Collection[int], *, gone: bool = False, using: str = DEFAULT_DB_ALIAS
) -> None:
    """Have rows sealed that were written, or are `gone`: with their transaction's others, or else at once."""
    for part in sealed(model):
        wrote_part(part, numbers, gone=gone, using=using)


def wrote_part(
    part: Sealed, numbers: Collection[int], *, gone: bool = False, using: str = DEFAULT_DB_ALIAS
) -> None:
    """The same of one of the digests that a table's rows have."""
    touched = _unsealed.get()
    if touched is not None and using == DEFAULT_DB_ALIAS:
        touched[gone][part].update(numbers)
        return
    rows = {part: set(numbers)}
    with transaction.atomic(using=using):
        _seal({} if gone else rows, rows if gone else {}, using)


def breaks(using: str, latest: Latest) -> Iterator[tuple[str, str]]:
    """What is wrong with the chain itself, as where and what; `latest` is told what its seals say of each row last."""
    link = FIRST_LINK
    seals = ChangeSeal.objects.using(using).order_by("number").values_list("number", "rows", "hash")
    for expected, (number, rows, stored) in enumerate(seals.iterator(SEALS_AT_A_TIME), start=1):
        if number != expected:
            yield _where(number), _("{number} comes next", number=expected)
        if stored != _link(link, number, rows):
            yield _where(number), _("it does not fit its changes and the seal before")
        link = stored
        for part, by_number in rows.items():
            latest[part].update((int(row), digest) for row, digest in by_number.items())


def _where(number: int) -> str:
    return _("seal {number} of the change log", number=number)


def is_begun(using: str) -> bool:
    """Whether anything was sealed yet."""
    return ChangeSeal.objects.using(using).exists()


def _seal(written: Touched, gone: Touched, using: str) -> None:
    """Write the next links over these rows; those that were written and undone again are left out."""
    if not any(written.values()) and not any(gone.values()):
        return
    connection = connections[using]
    if connection.vendor == "postgresql":  # on SQLite, whoever writes shuts out every other
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [LOCK])
    last = ChangeSeal.objects.using(using).order_by("-number").values_list("number", "hash").first()
    number, link = last or (0, FIRST_LINK)
    for rows in _as_they_stand(written, gone, using):
        number += 1
        link = _link(link, number, rows)
        ChangeSeal.objects.using(using).create(number=number, rows=rows, hash=link)


def _as_they_stand(written: Touched, gone: Touched, using: str) -> Iterator[Rows]:
    """The digests of these rows, so many at a time."""
    rows: Rows = {}
    room = ROWS_AT_A_TIME
    for part in sorted({*written, *gone}, key=lambda part: part.name):
        numbers = sorted({*written.get(part, ()), *gone.get(part, ())})
        while numbers:
            some, numbers = numbers[:room], numbers[room:]
            found: dict[str, str | None] = {str(row): None for row in some if row in gone.get(part, ())}
            found |= {str(row): digest for row, digest in digests(part, using, some)}
            if found:
                rows[part.name] = found
            room -= len(some)
            if not room:
                yield rows
                rows, room = {}, ROWS_AT_A_TIME
    if rows:
        yield rows


def _link(before: str, number: int, rows: Rows) -> str:
    """The seal over what these rows say and everything before them."""
    return sha256(_canonical([before, number, rows]).encode()).hexdigest()


_canonical = json.JSONEncoder(sort_keys=True, check_circular=False).encode  # rows hold no rows
