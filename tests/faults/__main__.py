"""Run the full rounds and print what they came to: `python -m tests.faults`.

On SQLite always; on PostgreSQL too where DATABASE_URL names a server on which databases may be made; and, where
PostgreSQL's programs are installed, on a server of its own that is stopped as a power cut would stop it. Everything is
drawn from a seed. It takes some hours, makes all that it needs and removes it again.
`--only "backups"` tells the stories with that word in their names. Exit status: 0 nothing was lost or broken, 1 a story
broke, and its error says where.
"""

import argparse
import os
import sys
import tempfile
import time
import traceback
from collections.abc import Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict
from pathlib import Path
from typing import Any

from tests.faults import crashes, out_of_reach
from tests.faults.jobs import Tally
from tests.faults.private_cluster import PrivateCluster, private_cluster
from tests.faults.real_databases import Maker, maker
from tests.faults.rounds import SIZES, Story, histories, sqlite_stories, stories
from tests.inventory.edits import Edits

WIDTH = 47


class Teller:
    """Tells stories, each on a fresh database, prints their figures, and remembers whether one broke."""

    def __init__(self, only: str) -> None:
        self.only = only.casefold()
        self.broken = 0

    def tell(self, where: str, databases: Maker, told: Iterable[Story], *, at_once: int = 1) -> None:
        wanted = [story for story in told if self.only in story.name.casefold()]
        with ThreadPoolExecutor(at_once) as pool:
            for _done in pool.map(lambda story: self._one(where, databases, story), wanted):
                pass

    def _one(self, where: str, databases: Maker, story: Story) -> None:
        started = time.monotonic()
        try:
            with databases.fresh() as database:
                outcome = in_words(story.tell(database))
        except Exception:
            self.broken += 1
            outcome = f"BROKEN\n{traceback.format_exc()}"
        seconds = time.monotonic() - started
        print(f"{where:<11}{story.name:<{WIDTH}}{outcome}  ({seconds:.0f} s)", flush=True)


def in_words(outcome: Any) -> str:
    if isinstance(outcome, Tally):
        return (
            f"{outcome.posted} posted, {outcome.refused} refused, {len(outcome.errors)} errors, "
            f"worst wait {outcome.worst_wait:.2f} s"
        )
    if isinstance(outcome, Edits):
        return (
            f"{outcome.found} found, {outcome.refused} refused by the database, {len(outcome.missed)} missed"
        )
    if isinstance(outcome, list):
        return (
            f"{len(outcome)} failures: {', '.join(sorted({str(each).splitlines()[0] for each in outcome}))}"
        )
    figures = {
        name: sum(each.values()) if isinstance(each, dict) else each for name, each in asdict(outcome).items()
    }
    return ", ".join(f"{value} {name.replace('_', ' ')}" for name, value in figures.items())


def stopped(cluster: PrivateCluster, asked: argparse.Namespace) -> Iterator[Story]:
    """What a server that is stopped does to writers: with care and, to show that a loss would be seen, without."""
    yield Story(
        f"server stopped × {asked.stops}",
        lambda on: crashes.stop_the_server(cluster, on, stops=asked.stops, writers=4, seed=asked.seed),
    )
    yield Story(
        f"server stopped × {max(1, asked.stops // 4)}, careless",
        lambda on: crashes.stop_the_server(
            cluster, on, stops=max(1, asked.stops // 4), writers=4, seed=asked.seed, careful=False
        ),
    )
    yield Story(
        f"server stopped under a web server × {asked.outages}",
        lambda on: out_of_reach.server_goes_away(cluster, on, rounds=asked.outages),
    )


def stop_servers(teller: Teller, asked: argparse.Namespace) -> None:
    with private_cluster() as cluster:
        if cluster is None:
            print("PostgreSQL's programs are not installed here: no server to stop.")
            return
        with tempfile.TemporaryDirectory() as folder, maker(Path(folder), cluster.url) as databases:
            teller.tell("postgresql", databases, stopped(cluster, asked))


def main() -> int:
    parser = argparse.ArgumentParser(
        prog="python -m tests.faults",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    for name, default, what in SIZES:
        parser.add_argument(f"--{name}", type=int, default=default, help=f"{what} (default: {default})")
    parser.add_argument("--seed", type=int, default=1, help="what all of it is drawn from")
    parser.add_argument("--only", default="", help="tell only the stories whose name holds these words")
    asked = parser.parse_args()
    teller = Teller(asked.only)
    places = [("sqlite", "")]
    if (server := os.environ.get("DATABASE_URL", "")).startswith("postgres"):
        places.append(("postgresql", server))
    for where, url in places:
        with tempfile.TemporaryDirectory() as folder, maker(Path(folder), url) as databases:
            teller.tell(where, databases, stories(asked))
            if not url:
                teller.tell(where, databases, sqlite_stories(asked))
            teller.tell(where, databases, histories(asked), at_once=os.cpu_count() or 1)
    if asked.stops:
        stop_servers(teller, asked)
    print(f"{teller.broken} stories broke." if teller.broken else "Nothing was lost, halved or broken.")
    return 1 if teller.broken else 0


if __name__ == "__main__":
    sys.exit(main())
