"""Backup and restore of a PostgreSQL database, by its own pg_dump and pg_restore.

A restore goes into a database beside the live one and takes its name at the end, so the live one is whole until then.
"""

import os
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlsplit

from django.db import connection, connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.utils import DatabaseError, OperationalError, ProgrammingError

from studio.backups.archive import BackupError
from studio.backups.verification import BRING_UP_TO_DATE, rules_hold, run_on, totals
from studio.translation import _

VENDOR, MEMBER = "postgresql", "database.dump"
_MAINTENANCE = "postgres"
_LONGEST_NAME = 63  # bytes; PostgreSQL manual, "Identifiers and Key Words"


def copy(target: Path) -> dict[str, Any]:
    """Dump the live books while people work, and return their totals as of the same moment."""
    with _opened(_name()) as own, own.cursor() as cursor:
        cursor.execute("BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY")
        cursor.execute("SELECT pg_export_snapshot()")
        snapshot = cursor.fetchone()[0]
        _run(
            "pg_dump",
            "--format=custom",
            "--no-owner",
            "--no-privileges",
            f"--snapshot={snapshot}",
            f"--file={target}",
        )
        return _totals(cursor)


def prove(file: Path) -> tuple[dict[str, Any] | None, str]:
    """Restore a dump into a database of its own, check it to the last rule, and drop it again.

    A role that may not create databases gets less, and the words say so: the dump is read through to its end,
    and the books are checked where they live.
    """
    scratch = _beside("_proving")
    try:
        _create(scratch)
    except (OperationalError, ProgrammingError):
        _run("pg_restore", f"--file={os.devnull}", str(file))
        run_on(_url(_name()), rules_hold())
        return (
            None,
            _(
                "Read completely; ledger checked in place. Allow the role to create databases so that "
                "copies can be test-restored."
            ),
        )
    try:
        _load(file, scratch)
        run_on(_url(scratch), rules_hold())
        with _opened(scratch) as own, own.cursor() as cursor:
            return _totals(cursor), _("Restored alongside the live data and checked.")
    finally:
        _drop(scratch)


def stage(file: Path) -> dict[str, Any]:
    """Load a dump beside the live books, bring it up to this version's migrations and check it; its totals."""
    scratch = _staged()
    try:
        _create(scratch)
    except (OperationalError, ProgrammingError) as problem:
        raise BackupError(
            _("Restoring needs a database role that may create databases: {problem}", problem=problem)
        ) from problem
    _load(file, scratch)
    run_on(_url(scratch), [*BRING_UP_TO_DATE, *rules_hold()])
    with _opened(scratch) as own, own.cursor() as cursor:
        return _totals(cursor)


def swap(file: Path, keep: Path) -> str:
    """Give the staged database the live one's name, both renames in one transaction; where the old one is, in words."""
    live, kept = _name(), _beside(f"_{keep.name.replace('-', '_')}")
    connections.close_all()
    try:
        with _opened(_MAINTENANCE) as own, own.cursor() as cursor:
            cursor.execute("BEGIN")
            cursor.execute(f"ALTER DATABASE {_quoted(live)} RENAME TO {_quoted(kept)}")
            cursor.execute(f"ALTER DATABASE {_quoted(_staged())} RENAME TO {_quoted(live)}")
            cursor.execute("COMMIT")
    except OperationalError as problem:
        raise BackupError(
            _("Meniscus is running on this database. Stop the server, then restore again.")
        ) from problem
    return _(
        "The previous data is kept as the database {name}. Grant the application's role its rights again.",
        name=kept,
    )


def discard(file: Path) -> None:
    """Drop staged books that were not put in place."""
    _drop(_staged())


def _name() -> str:
    return str(connection.settings_dict["NAME"])


def _staged() -> str:
    return _beside("_restoring")


def _beside(ending: str) -> str:
    """The live name with an ending, cut where PostgreSQL would otherwise cut the ending itself off."""
    return _name().encode()[: _LONGEST_NAME - len(ending)].decode(errors="ignore") + ending


def _url(name: str) -> str:
    return urlsplit(os.environ["DATABASE_URL"])._replace(path=f"/{quote(name)}").geturl()


@contextmanager
def _opened(name: str) -> Iterator[BaseDatabaseWrapper]:
    """A connection of its own to a database of the same server, outside any transaction."""
    wrapper = type(connections["default"])
    with closing(wrapper({**connection.settings_dict, "NAME": name}, alias=f"backup-{name}")) as own:
        yield own


def _totals(cursor: Any) -> dict[str, Any]:
    try:
        return totals(cursor)
    except (DatabaseError, IndexError) as problem:
        raise BackupError(
            _(
                "The data in this copy cannot be read ({problem}). Choose another backup file.",
                problem=problem,
            )
        ) from problem


def _create(name: str) -> None:
    _drop(name)
    with _opened(_MAINTENANCE) as own, own.cursor() as cursor:
        cursor.execute(f"CREATE DATABASE {_quoted(name)}")


def _drop(name: str) -> None:
    with _opened(_MAINTENANCE) as own, own.cursor() as cursor:
        cursor.execute(f"DROP DATABASE IF EXISTS {_quoted(name)}")


def _quoted(name: str) -> str:
    return '"' + name.replace('"', '""') + '"'


def _load(file: Path, name: str) -> None:
    _run("pg_restore", "--exit-on-error", "--no-owner", "--no-privileges", f"--dbname={name}", str(file))


def _run(program: str, *arguments: str) -> None:
    if shutil.which(program) is None:
        raise BackupError(
            _(
                "{program} is not installed. Install PostgreSQL's client programs, then try again.",
                program=program,
            )
        )
    from psycopg.pq import Conninfo

    own = connection.get_connection_params()
    # Through the environment, password included: an argument could be read by anybody on the machine.
    environment = os.environ | {
        option.envvar.decode(): str(own[option.keyword.decode()])
        for option in Conninfo.get_defaults()
        if option.envvar and own.get(option.keyword.decode())
    }
    done = subprocess.run(  # noqa: S603 (a named program of PostgreSQL)
        [program, *arguments], env=environment, capture_output=True, text=True, check=False
    )
    if done.returncode:
        problem = done.stderr.strip() or done.returncode
        raise BackupError(_("{program} failed: {problem}", program=program, problem=problem))
