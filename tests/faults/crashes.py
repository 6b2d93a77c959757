"""Writers that die while they post, and a disk that is full: each story asserts that nothing was lost or halved."""

import random
import time
from collections import Counter
from dataclasses import dataclass
from multiprocessing.connection import wait
from typing import Any

from tests.faults import disk_jobs, jobs
from tests.faults.jobs import Scene
from tests.faults.private_cluster import PrivateCluster
from tests.faults.real_databases import RealDatabase, Worker


@dataclass
class Losses:
    """What a round of crashes came to."""

    crashes: int = 0
    acknowledged: int = 0
    lost: int = 0
    unheard: int = 0  # committed, but the writer died before it could say so


@dataclass
class Diary:
    """What each writer has been told is safely written: the next turn it will try, and the postings it knows of."""

    scene: Scene
    turns: list[int]
    postings: dict[str, int]

    @classmethod
    def begin(cls, database: RealDatabase, writers: int) -> "Diary":
        scene = database.do(jobs.stock_shelf, paint_in_lots=[jobs.PLENTY])
        return cls(scene, [0] * writers, {})

    def set_to_work(self, database: RealDatabase) -> list[Worker]:
        """Have every writer go on where it was."""
        return [
            database.start(jobs.post_until_killed, scene=self.scene, name=f"writer {number}", start=turn)
            for number, turn in enumerate(self.turns)
        ]

    def note(self, writer: int, said: list[tuple[str, int]]) -> None:
        """Go on with the first request that was not answered: a retry, which must not post twice."""
        self.postings.update(said)
        self.turns[writer] += len(said)

    def forget_what_was_lost(self, database: RealDatabase) -> None:
        """Take the books as they are now, so that the next round starts from there."""
        self.postings = database.do(jobs.look_through)["keys"]
        told = Counter(key.rsplit("-", 1)[0] for key in self.postings)
        self.turns = [told[f"writer {number}"] for number in range(len(self.turns))]

    def compare(self, database: RealDatabase, losses: Losses) -> None:
        """Hold the books against the diary: every posting acknowledged is there, and next to none unheard of."""
        books: dict[str, Any] = database.do(jobs.look_through)
        kept = books["keys"]
        losses.lost = sum(kept.get(key) != number for key, number in self.postings.items())
        losses.unheard = len(kept.keys() - self.postings.keys())
        losses.acknowledged = len(self.postings)
        sessions = books["kinds"].get("session", 0)
        assert sessions == len(kept) <= len(self.postings) + len(self.turns)
        assert books["left"][self.scene.paint] == jobs.PLENTY - sessions * jobs.PAINT_A_SESSION


def kill_writers(database: RealDatabase, *, rounds: int, writers: int, seed: int) -> Losses:
    """`kill -9` all writers at a random moment, look the books through, and let them go on where they were."""
    chance, losses = random.Random(seed), Losses()
    diary = Diary.begin(database, writers)
    for _ in range(rounds):
        at_work = diary.set_to_work(database)
        wait([worker.pipe for worker in at_work], timeout=30)  # until one of them has posted something
        time.sleep(chance.uniform(0, 0.1))
        for worker in at_work:
            worker.process.kill()
        for number, worker in enumerate(at_work):
            diary.note(number, worker.kill())
        losses.crashes += writers
        diary.compare(database, losses)
        assert losses.lost == 0
    return losses


def fill_the_disk(database: RealDatabase, *, failures: int, seed: int) -> list[str]:
    """The database runs out of room in the middle of a posting, again and again. Returns the errors it gave."""
    scene: Scene = database.do(jobs.stock_shelf, paint_in_lots=[jobs.PLENTY])
    errors: list[str] = database.do(disk_jobs.post_on_a_full_disk, scene=scene, failures=failures, seed=seed)
    books = database.do(jobs.look_through)
    assert len(errors) == failures
    assert all("disk is full" in error for error in errors)
    assert list(books["keys"]) == [f"turn {turn}" for turn in range(len(books["keys"]))]
    return errors


def stop_writing_files(database: RealDatabase, *, failures: int, seed: int) -> list[str]:
    """The system lets SQLite's files grow no further in the middle of a posting. Returns the errors it gave."""
    chance, errors = random.Random(seed), []
    scene: Scene = database.do(jobs.stock_shelf, paint_in_lots=[jobs.PLENTY])
    diary = Diary(scene, [0], {})
    losses = Losses()
    for _ in range(failures):
        room = chance.randrange(200_000)
        said, error = database.do(
            disk_jobs.post_until_files_are_full, scene=scene, name="writer 0", start=diary.turns[0], room=room
        )
        diary.note(0, said)
        errors.append(error)
        diary.compare(database, losses)
        assert (losses.lost, losses.unheard) == (0, 0)
    return errors


def stop_the_server(
    cluster: PrivateCluster,
    database: RealDatabase,
    *,
    stops: int,
    writers: int,
    seed: int,
    careful: bool = True,
) -> Losses:
    """Stop PostgreSQL under its writers as a power cut would, start it again, and look the books through.

    Without care (synchronous_commit off) it acknowledges before it has written: that run shows that a loss would
    be seen.
    """
    chance, losses, lost = random.Random(seed), Losses(), 0
    diary = Diary.begin(database, writers)
    for _ in range(stops):
        cluster.stop("fast")
        cluster.start(synchronous_commit="on" if careful else "off")
        at_work = diary.set_to_work(database)
        wait([worker.pipe for worker in at_work], timeout=30)
        time.sleep(chance.uniform(0.1, 0.6))
        cluster.stop("immediate")
        cluster.start()
        for number, worker in enumerate(at_work):
            worker.answer()
            diary.note(number, worker.said)
        losses.crashes += 1
        diary.compare(database, losses)
        lost += losses.lost
        assert not (careful and lost)
        diary.forget_what_was_lost(database)
    losses.lost = lost
    return losses
