"""Backup and restore of an SQLite file."""

import os
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any
from urllib.parse import quote

from django.db import connection, connections

from studio.backups.archive import BackupError
from studio.backups.verification import BRING_UP_TO_DATE, rules_hold, run_on, totals
from studio.operations import database_guard as guard
from studio.translation import _

VENDOR, MEMBER = "sqlite", "database.sqlite3"
_COMPANIONS = ("-wal", "-shm", "-journal")


def copy(target: Path) -> dict[str, Any]:
    """Copy the live books into one file while people work, and return the totals of the copy.

    One step of the online backup reads one moment; in many small steps every write would start it again.
    """
    if connection.in_atomic_block:  # the backup would wait for ever for this very transaction to end
        raise BackupError(_("A backup cannot be made in the middle of a change. Finish the change first."))
    connection.ensure_connection()
    try:
        with closing(sqlite3.connect(target)) as copied:
            connection.connection.backup(copied)
    except sqlite3.Error as problem:
        raise BackupError(_("The database cannot be copied: {problem}.", problem=problem)) from problem
    return _settled(target)


def prove(file: Path) -> tuple[dict[str, Any], str]:
    """Check an unpacked copy to the last rule; its totals, and what was done in words."""
    run_on(_url(file), rules_hold())
    return _settled(file), _("Opened and checked, ledger included.")


def stage(file: Path) -> dict[str, Any]:
    """Bring unpacked books up to this version's migrations and check them; their totals."""
    _settled(file)
    run_on(_url(file), [*BRING_UP_TO_DATE, *rules_hold()])
    return _settled(file)


def swap(file: Path, keep: Path) -> str:
    """Put staged books in place of the live ones, which go to the folder `keep`; where they are, in words.

    The old file is first made whole (its write-ahead log folded in), so a crash at any point leaves either the
    old books or the new ones, never new books beside an old log.
    """
    live = guard.books()
    connections.close_all()
    kept = ""
    if live.exists():
        for path in _companions(live):
            shutil.copyfile(path, keep / path.name)  # opening a ruined file may already take its log away
        if _fold_log_in(live):
            for path in _companions(keep / live.name):
                path.unlink()
        os.link(live, keep / live.name)
        kept = _("The previous data is kept in {folder}.", folder=keep)
    for path in _companions(live):  # left beside the new file, an old log would ruin it
        path.unlink()
    file.chmod(0o600)
    file.replace(live)
    _to_disk(live.parent)
    return kept


def discard(file: Path) -> None:
    """Forget staged books that were not put in place: the file goes with its folder."""


def _url(file: Path) -> str:
    return f"sqlite:///{quote(str(file.resolve()))}"


def _settled(file: Path) -> dict[str, Any]:
    """Make a copy one plain file without a log, check that it is whole, and return its totals."""
    try:
        with closing(sqlite3.connect(file)) as opened:
            opened.execute("PRAGMA journal_mode=DELETE")
            if opened.execute("PRAGMA integrity_check").fetchall() != [("ok",)]:
                raise BackupError(_("The database in this copy is damaged. Choose another backup file."))
            if opened.execute("PRAGMA foreign_key_check").fetchall():
                raise BackupError(
                    _("The database in this copy has broken references. Choose another backup file.")
                )
            return totals(opened.cursor())
    except (sqlite3.DatabaseError, IndexError) as problem:
        raise BackupError(
            _(
                "The database in this copy cannot be read ({problem}). Choose another backup file.",
                problem=problem,
            )
        ) from problem


def _fold_log_in(live: Path) -> bool:
    """Fold the log into the file; False where that cannot be done because the file is ruined."""
    try:
        with closing(sqlite3.connect(live, timeout=5)) as opened:
            opened.execute("PRAGMA journal_mode=DELETE")
    except sqlite3.DatabaseError as problem:
        if "locked" in str(problem):
            raise BackupError(
                _("Another program has the database open. Close it, then restore again.")
            ) from problem
        return False
    return True


def _companions(live: Path) -> list[Path]:
    return [path for ending in _COMPANIONS if (path := live.with_name(live.name + ending)).exists()]


def _to_disk(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
