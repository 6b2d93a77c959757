"""Count how often commits reach the disk: by the system calls of a process that posts, or as PostgreSQL counts them.

Run as a command inside `strace`, it posts with marks: `python -m tests.faults.traced DATABASE_URL COUNT`.
"""

import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.faults import disk_jobs, jobs
from tests.faults.jobs import Scene
from tests.faults.private_cluster import PrivateCluster
from tests.faults.real_databases import RealDatabase, use

strace = shutil.which("strace")


@dataclass
class Flushes:
    """How many commits there were, flushes for them, and flushes for as many commits with less care."""

    commits: int = 0
    flushes: int = 0
    flushes_without_care: int = 0


def flushed_commits(database: RealDatabase, *, count: int) -> Flushes:
    """On SQLite: each single posting flushes a file to disk before it is acknowledged."""
    with TemporaryDirectory() as folder:
        full, normal = flushes_per_commit(database, count=count, trace=Path(folder) / "trace")
    assert len(full) == len(normal) == count
    assert min(full) >= 1
    assert sum(normal) < count
    return Flushes(count, sum(full), sum(normal))


def flushes_per_commit(database: RealDatabase, *, count: int, trace: Path) -> tuple[list[int], list[int]]:
    """How many times each of `count` postings flushed a file to disk: as a studio runs, and with less care."""
    watched = ["-f", "-qq", "-o", str(trace), "-e", "trace=fdatasync,fsync,getppid"]
    command = [sys.executable, "-m", "tests.faults.traced", database.url, str(count)]
    subprocess.run([str(strace), *watched, *command], check=True)
    calls = ["getppid" if "getppid" in line else "flush" for line in trace.read_text().splitlines()]
    marked = " ".join(calls).split("getppid")[1:-1]
    flushes = [part.count("flush") for part in marked]
    return flushes[:count], flushes[count + 1 :]


def server_flushes(cluster: PrivateCluster, database: RealDatabase, *, count: int) -> Flushes:
    """On a PostgreSQL server with nobody else on it: its own count of flushes of the log while one writer posts."""
    scene: Scene = database.do(jobs.stock_shelf, paint_in_lots=[jobs.PLENTY])
    flushes = []
    for careful in ("on", "off"):
        cluster.stop("fast")
        cluster.start(synchronous_commit=careful, autovacuum="off", wal_writer_delay="10s")
        before = _flushes_of(cluster)
        database.do(disk_jobs.post, scene=scene, name=careful, count=count)
        flushes.append(_flushes_of(cluster) - before)
    cluster.stop("fast")
    cluster.start()
    assert flushes[0] >= count > flushes[1]
    return Flushes(count, *flushes)


def _flushes_of(cluster: PrivateCluster) -> int:
    """Counted by each of the server's processes, and added up when it ends at the latest."""
    import psycopg

    with psycopg.connect(cluster.url) as connection:
        row = connection.execute("SELECT wal_sync FROM pg_stat_wal").fetchone()
        assert row is not None
        return int(row[0])


if __name__ == "__main__":
    use(sys.argv[1])
    disk_jobs.post_with_marks(count=int(sys.argv[2]), say=print, meet=print)
