"""Who is using the books right now: those who do hold a shared lock, a restore the only one.

Every process that opens an SQLite file holds it. With PostgreSQL the server does, so that an idle one counts too;
whoever else is connected is known to PostgreSQL, which refuses to rename a database in use.
"""

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.conf import settings
from django.db import connection
from django.db.utils import OperationalError

from studio.translation import _

_held: dict[Path, int] = {}


class NotToBeOpened(OperationalError):
    """Raised instead of opening books that must be left alone for now; the text says why."""


class InUse(NotToBeOpened):
    """Raised when the books are open in another process, or are being restored by one."""


class Gone(NotToBeOpened):
    """Raised when the file that this process has worked on is not there any more."""


def books() -> Path:
    """What the lock of the live books is named after: their file, or a word in the data folder."""
    if connection.vendor == "sqlite":
        return Path(connection.settings_dict["NAME"])
    return Path(settings.DATA_DIR) / connection.vendor


def hold(database: Path) -> None:
    """Hold the shared lock of a database file until this process ends. Raises InUse during a restore."""
    if database in _held:
        return
    lock = _open(database)
    try:
        fcntl.flock(lock, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except BlockingIOError:
        os.close(lock)
        raise InUse(_("A backup is being restored. Please try again in a few minutes.")) from None
    _held[database] = lock


def refuse_gone(database: Path) -> None:
    """Raise Gone when the file of books that this process holds is missing: its disk may not be mounted.

    An empty one in its place would gather a log of its own, which ruins the real file once that is back.
    """
    if database in _held and not database.exists():
        raise Gone(_("The database file is missing. Put it back, or restore a backup."))


@contextmanager
def alone(database: Path) -> Iterator[None]:
    """Be the only process that uses a database file. Raises InUse when there is another one."""
    lock = _held.pop(database, None)
    lock = _open(database) if lock is None else lock
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        os.close(lock)
        raise InUse(
            _(
                "Meniscus is running on this database. Stop the server and any other command, then "
                "restore again."
            )
        ) from None
    _held[database] = lock
    try:
        yield
    finally:
        os.close(_held.pop(database))


def _open(database: Path) -> int:
    database.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    path = database.with_name(f"{database.name}.lock")
    return os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
