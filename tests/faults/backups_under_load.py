"""Backups made while people work: each is restored, and is then what the books were at one moment of that work."""

import random
import shutil
import time
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.faults import backup_jobs, jobs
from tests.faults.backup_jobs import Done, Restored
from tests.faults.jobs import Scene
from tests.faults.real_databases import RealDatabase


@dataclass
class Restores:
    """What a run of backups and restores came to."""

    restored: int = 0
    postings: int = 0
    photos: int = 0
    acknowledged_before: int = 0
    posted_during_backups: int = 0
    lost: int = 0


def back_up_under_load(database: RealDatabase, *, rounds: int, writers: int, seed: int) -> Restores:
    """Back up under writers, kill them, restore, and compare; the next round goes on from what was restored."""
    scene: Scene = database.do(jobs.stock_shelf, paint_in_lots=[jobs.PLENTY])
    chance, found = random.Random(seed), Restores()
    with TemporaryDirectory() as folder:
        for turn in range(rounds):
            _one_round(database, scene, folder, f"round {turn}", writers, chance, found)
    return found


def _one_round(
    database: RealDatabase,
    scene: Scene,
    folder: str,
    name: str,
    writers: int,
    chance: random.Random,
    found: Restores,
) -> None:
    file = Path(folder) / f"{name}.zip"
    at_work = [
        database.start(
            backup_jobs.work_until_killed, scene=scene, name=f"{name} writer {number}", folder=folder
        )
        for number in range(writers)
    ]
    try:
        for worker in at_work:
            worker.hear()
        time.sleep(chance.uniform(0, 0.3))
        before: list[Done] = [done for worker in at_work for done in worker.heard_so_far()]
        database.do(backup_jobs.back_up, file=str(file), folder=folder)
    finally:
        after: list[Done] = [done for worker in at_work for done in worker.kill()]
    live: dict[int, str] = database.do(backup_jobs.chain)
    shutil.rmtree(Path(folder) / "photos")
    database.do(backup_jobs.restore, file=str(file), folder=folder)
    stands: Restored = database.do(backup_jobs.what_stands, folder=folder)
    _compare(stands, live, before, after)
    file.unlink()
    found.restored += 1
    found.postings, found.photos = stands.number, len(stands.photos)
    found.acknowledged_before += len(before)
    found.posted_during_backups += max(live) - stands.number
    found.lost += sum(stands.keys.get(done.key) != done.number for done in before)


def _compare(stands: Restored, live: dict[int, str], before: list[Done], after: list[Done]) -> None:
    """A prefix of what was posted, with all that was acknowledged before the start, and the photos of that moment."""
    assert live[stands.number] == stands.last_hash
    assert [done.key for done in before if stands.keys.get(done.key) != done.number] == []
    known = {done.photo: done.sha256 for done in after}
    assert [done.photo for done in before if stands.photos.get(done.photo) != done.sha256] == []
    assert [name for name, sha256 in stands.photos.items() if known.get(name, sha256) != sha256] == []
