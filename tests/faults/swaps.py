"""A restore that dies while it swaps the books: at every step, what stands is the old books whole, or the new ones."""

import os
import shutil
import signal
import sqlite3
import sys
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit, urlunsplit

from django.db import connection
from django.db.backends.utils import CursorWrapper

from studio.backups import postgresql as backup_postgresql
from studio.backups import sqlite as backup_sqlite
from tests.faults import jobs
from tests.faults.backup_jobs import chain
from tests.faults.jobs import Meet, Say, Scene
from tests.faults.real_databases import RealDatabase, WorkerDied

# What Python tells its auditors of when it changes files, or opens a database.
STEPS = {"os.link", "os.remove", "os.rename", "os.chmod", "shutil.copyfile", "sqlite3.connect"}
SPILLED_SINCE = 3


@dataclass
class Swaps:
    """How many steps a swap has, and what stood when it died before each of them."""

    steps: int = 0
    old_stood: int = 0
    new_stood: int = 0
    neither: int = 0


def swaps_that_die(database: RealDatabase) -> Swaps:
    """Kill the swap before each of its steps, look at what stands, and do it again to the end."""
    scene: Scene = database.do(jobs.stock_shelf, paint_in_lots=[jobs.PLENTY])
    found = _of_files(database, scene) if database.is_sqlite else _of_names(database, scene)
    assert found.steps >= 3
    assert found.neither == 0
    assert found.old_stood
    return found


def _of_files(database: RealDatabase, scene: Scene) -> Swaps:
    """The old books have a log beside them, left by a writer that was killed: it must not meet the new file."""
    new = RealDatabase(f"{database.url}-new")
    with closing(sqlite3.connect(database.file)) as opened, closing(sqlite3.connect(new.file)) as copied:
        opened.backup(copied)
    new.do(jobs.spill_some, scene=scene, count=SPILLED_SINCE)
    worker = database.start(jobs.post_until_killed, scene=scene, name="writer 0", start=0)
    worker.hear()
    worker.kill()
    left = [file for file in database.file.parent.glob(f"{database.file.name}*") if "new" not in file.name]
    assert any(file.name.endswith("-wal") for file in left)
    old = {file: file.read_bytes() for file in left}
    states = [_state(database), _state(new)]
    found, step = Swaps(), 0
    while True:
        step += 1
        for file, content in old.items():
            file.write_bytes(content)
        died = _died(database, step, new.file)
        stands = _state(database)
        if not died:
            assert stands == states[1]
            return found
        _count(found, states.index(stands) if stands in states else 2)


def _of_names(database: RealDatabase, scene: Scene) -> Swaps:
    """Two databases are renamed in one transaction, on a server that goes on when the one who asked for it dies."""
    import psycopg

    parts = urlsplit(database.url)
    live = parts.path.lstrip("/")
    staged = database.do(staged_name)
    with psycopg.connect(urlunsplit(parts._replace(path="/postgres")), autocommit=True) as server:
        server.execute(f'CREATE DATABASE "{staged}" TEMPLATE "{live}"'.encode())
    new = RealDatabase(urlunsplit(parts._replace(path=f"/{staged}")))
    new.do(jobs.spill_some, scene=scene, count=SPILLED_SINCE)
    states = [_state(database), _state(new)]
    found, step = Swaps(), 0
    while True:
        step += 1
        died = _died(database, step, Path(staged))
        stands = _state(database)
        if not died:
            assert stands == states[1]
            return found
        _count(found, states.index(stands) if stands in states else 2)


def _died(database: RealDatabase, step: int, new: Path) -> bool:
    try:
        database.do(swap_and_die, step=step, new=str(new))
    except WorkerDied:
        return True
    return False


def _count(found: Swaps, which: int) -> None:
    found.steps += 1
    found.old_stood += which == 0
    found.new_stood += which == 1
    found.neither += which == 2


def _state(database: RealDatabase) -> dict[int, str]:
    """The chain of the books that stand there, looked through."""
    database.do(jobs.look_over)
    found: dict[int, str] = database.do(chain)
    return found


# What the workers do


def staged_name(*, say: Say, meet: Meet) -> str:
    return backup_postgresql._staged()


def swap_and_die(*, step: int, new: str, say: Say, meet: Meet) -> None:
    """Swap the books for new ones, and die as by kill -9 before a certain step. Ends alive when there are fewer."""
    left = step

    def die_in_turn() -> None:
        nonlocal left
        left -= 1
        if left == 0:
            os.kill(os.getpid(), signal.SIGKILL)

    keep = Path(connection.settings_dict["NAME"]).parent / f"before-restore-{step}"
    if connection.vendor == "sqlite":
        keep.mkdir()
        copy = shutil.copyfile(new, f"{new}-staged")
        _at_each_change_of_files(die_in_turn)
        backup_sqlite.swap(Path(copy), keep)
    else:
        _at_each_statement(die_in_turn)
        backup_postgresql.swap(Path(), keep)


def _at_each_change_of_files(act: Callable[[], None]) -> None:
    def watch(event: str, arguments: tuple[Any, ...]) -> None:
        if event in STEPS:
            act()

    sys.addaudithook(watch)


def _at_each_statement(act: Callable[[], None]) -> None:
    execute = CursorWrapper.execute

    def watched(cursor: CursorWrapper, *arguments: Any) -> Any:
        act()
        return execute(cursor, *arguments)

    CursorWrapper.execute = watched  # type: ignore[method-assign,assignment]
