"""A restore where SQLite's write-ahead log of other books lies about: read beside the restored file, it ruins it.

A writer that is killed leaves its log (`-wal`) and the index of it (`-shm`) behind. As SQLite's own list of how to
corrupt a database says (sqlite.org/howtocorrupt.html, 1.2 to 1.4), a file must never be put in the place of another
with those still there.
"""

import shutil
import sqlite3
import time
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.faults import backup_jobs, jobs
from tests.faults.backup_jobs import Restored
from tests.faults.jobs import Scene
from tests.faults.real_databases import RealDatabase


@dataclass
class Leftovers:
    """How many restores met a log, how many came out wrong, and how many would have by merely copying the file."""

    restored: int = 0
    wrong: int = 0
    wrong_if_merely_copied: int = 0


def logs_left_behind(database: RealDatabase, *, rounds: int) -> Leftovers:
    """Back up, write on, kill the writer, restore over what it left; the next round goes on from there."""
    scene: Scene = database.do(jobs.stock_shelf, paint_in_lots=[jobs.PLENTY])
    found = Leftovers()
    with TemporaryDirectory() as folder:
        for turn in range(rounds):
            backup, copied = Path(folder) / "backup.zip", Path(folder) / "copied.sqlite3"
            database.do(backup_jobs.back_up, file=str(backup), folder=folder)
            chain: dict[int, str] = database.do(backup_jobs.chain)
            _copy(database.file, copied)
            _write_until_killed(database, scene, f"round {turn}")
            found.wrong_if_merely_copied += _is_wrong(copied, database.file, len(chain))
            database.do(backup_jobs.restore, file=str(backup), folder=folder)
            stands: Restored = database.do(backup_jobs.what_stands, folder=folder)
            assert (stands.number, stands.last_hash) == (len(chain), chain[len(chain)])
            found.restored += 1
            for kept in database.file.parent.glob("before-restore-*"):
                shutil.rmtree(kept)
            backup.unlink()
    return found


def _copy(file: Path, to: Path) -> None:
    """The books of this moment as one whole file."""
    to.unlink(missing_ok=True)
    with closing(sqlite3.connect(file)) as live, closing(sqlite3.connect(to)) as copy:
        live.backup(copy)


def _write_until_killed(database: RealDatabase, scene: Scene, name: str) -> None:
    worker = database.start(jobs.post_until_killed, scene=scene, name=name, start=0)
    worker.hear()
    time.sleep(0.2)
    worker.kill()
    assert Path(f"{database.file}-wal").stat().st_size > 0


def _is_wrong(copied: Path, books: Path, number: int) -> bool:
    """Whether the copy is not what was copied, when it is opened beside the log of the other books."""
    logs = [shutil.copy(f"{books}{ending}", f"{copied}{ending}") for ending in ("-wal", "-shm")]
    try:
        with closing(sqlite3.connect(copied)) as opened:
            (there,) = opened.execute("SELECT MAX(number) FROM inventory_posting").fetchone()
            return there != number or opened.execute("PRAGMA integrity_check").fetchall() != [("ok",)]
    except sqlite3.DatabaseError:
        return True
    finally:
        for log in logs:
            Path(log).unlink(missing_ok=True)
