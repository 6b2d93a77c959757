"""Count how often a commit reaches the disk, by watching the system calls of a process that posts.

Run as a command inside `strace`, it posts with marks: `python -m tests.faults.traced DATABASE_URL COUNT`.
"""

import shutil
import subprocess
import sys
from pathlib import Path

from tests.faults import disk_jobs
from tests.faults.real_databases import RealDatabase, use

strace = shutil.which("strace")


def flushes_per_commit(database: RealDatabase, *, count: int, trace: Path) -> tuple[list[int], list[int]]:
    """How many times each of `count` postings flushed a file to disk: as a studio runs, and with less care."""
    watched = ["-f", "-qq", "-o", str(trace), "-e", "trace=fdatasync,fsync,getppid"]
    command = [sys.executable, "-m", "tests.faults.traced", database.url, str(count)]
    subprocess.run([str(strace), *watched, *command], check=True)
    calls = ["getppid" if "getppid" in line else "flush" for line in trace.read_text().splitlines()]
    marked = " ".join(calls).split("getppid")[1:-1]
    flushes = [part.count("flush") for part in marked]
    return flushes[:count], flushes[count + 1 :]


if __name__ == "__main__":
    use(sys.argv[1])
    disk_jobs.post_with_marks(count=int(sys.argv[2]), say=print, meet=print)
