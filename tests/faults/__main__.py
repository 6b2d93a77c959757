"""Run the full rounds and print what they came to: `python -m tests.faults --rounds 200`.

On SQLite always; on PostgreSQL too where DATABASE_URL names a server on which databases may be made; and, where
PostgreSQL's programs are installed, on a server of its own that is stopped as a power cut would stop it. It takes
about twenty minutes, makes everything it needs and removes it again. Exit status: 0 nothing was lost or broken.
"""

import argparse
import os
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import asdict
from pathlib import Path
from typing import Any

from tests.faults import contention, crashes, through_http
from tests.faults.jobs import Tally
from tests.faults.private_cluster import private_cluster
from tests.faults.real_databases import Maker, RealDatabase, maker

ROUNDS_A_LEDGER = 20  # a fresh ledger now and then, since every round looks all of it through
Story = tuple[str, Callable[[RealDatabase], Any]]


def stories(asked: argparse.Namespace) -> Iterator[Story]:
    """Every story that runs on either database, at its full size."""
    yield (
        f"8 writers × {asked.requests} requests on the same lots",
        lambda on: contention.many_writers(on, writers=8, requests=asked.requests),
    )
    yield ("800 takes against 300", lambda on: contention.never_oversold(on, takers=8, takes=100, held=300))
    yield (
        f"20 forms × {asked.racers} senders at once",
        lambda on: contention.double_sends(on, keys=20, racers=asked.racers),
    )
    yield "200 postings each reversed by two at once", lambda on: contention.raced_reversals(on, postings=200)
    yield "100 pieces each sold by two at once", lambda on: contention.raced_sales(on, pieces=100)
    yield (
        f"kill -9 of web workers × {asked.rounds}",
        lambda on: through_http.kill_web_workers(on, kills=asked.rounds, clients=8, seed=asked.seed),
    )
    for first in range(0, asked.rounds, ROUNDS_A_LEDGER):
        rounds = min(ROUNDS_A_LEDGER, asked.rounds - first)
        yield (
            f"kill -9 of two writers, rounds {first + 1} to {first + rounds}",
            lambda on, rounds=rounds, seed=asked.seed + first: crashes.kill_writers(  # type: ignore[misc]
                on, rounds=rounds, writers=2, seed=seed
            ),
        )


def disk_stories(asked: argparse.Namespace) -> Iterator[Story]:
    """What a full disk does, which can be arranged for SQLite's own files."""
    yield "database full × 20", lambda on: crashes.fill_the_disk(on, failures=20, seed=asked.seed)
    yield "files may not grow × 20", lambda on: crashes.stop_writing_files(on, failures=20, seed=asked.seed)


def tell(where: str, databases: Maker, each: Iterator[Story]) -> None:
    """Run each story on a fresh database and print its figures."""
    for name, story in each:
        with databases.fresh() as database:
            started = time.monotonic()
            outcome = story(database)
        print(f"{where:<11}{name:<50}{_in_words(outcome)}  ({time.monotonic() - started:.0f} s)", flush=True)


def stop_servers(asked: argparse.Namespace) -> None:
    """Stop a private server in mid-posting, with care and, to show that a loss would be seen, without."""
    with private_cluster() as cluster:
        if cluster is None:
            print("PostgreSQL's programs are not installed here: no server to stop.")
            return
        with tempfile.TemporaryDirectory() as folder, maker(Path(folder), cluster.url) as databases:
            for careful, stops in ((True, asked.stops), (False, max(1, asked.stops // 4))):

                def story(on: RealDatabase, careful: bool = careful, stops: int = stops) -> crashes.Losses:
                    return crashes.stop_the_server(
                        cluster, on, stops=stops, writers=4, seed=asked.seed, careful=careful
                    )

                name = f"server stopped × {stops}" + ("" if careful else ", synchronous_commit off")
                tell("postgresql", databases, iter([(name, story)]))


def _in_words(outcome: Any) -> str:
    if isinstance(outcome, Tally):
        return (
            f"{outcome.posted} posted, {outcome.refused} refused, {len(outcome.errors)} errors, "
            f"worst wait {outcome.worst_wait:.2f} s"
        )
    if isinstance(outcome, crashes.Losses):
        return ", ".join(f"{value} {name}" for name, value in asdict(outcome).items())
    return f"{len(outcome)} failures: {', '.join(sorted(set(outcome)))}"


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.faults", description=__doc__)
    parser.add_argument("--rounds", type=int, default=200, help="How often the writers are killed.")
    parser.add_argument(
        "--requests", type=int, default=200, help="How many requests each of 8 writers makes."
    )
    parser.add_argument("--racers", type=int, default=50, help="How many send the same form at once.")
    parser.add_argument("--stops", type=int, default=20, help="How often the private server is stopped.")
    parser.add_argument("--seed", type=int, default=1, help="What the moments are drawn from.")
    asked = parser.parse_args()
    server = os.environ.get("DATABASE_URL", "")
    with tempfile.TemporaryDirectory() as folder, maker(Path(folder)) as databases:
        tell("sqlite", databases, stories(asked))
        tell("sqlite", databases, disk_stories(asked))
    if server.startswith("postgres"):
        with tempfile.TemporaryDirectory() as folder, maker(Path(folder), server) as databases:
            tell("postgresql", databases, stories(asked))
    if asked.stops:
        stop_servers(asked)


if __name__ == "__main__":
    main()
