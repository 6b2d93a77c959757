"""Run the full rounds and print what they came to: `python -m tests.faults`.

On SQLite always; on PostgreSQL too where DATABASE_URL names a server on which databases may be made; and, where
PostgreSQL's programs are installed, on a server of its own that is stopped as a power cut would stop it. Everything is
drawn from a seed. It takes some hours, makes all that it needs and removes it again.
`--only "backups"` tells the stories with that word in their names. What each came to is kept in a file as it is told,
so that runs add up; `--write FILE.md` puts all that is kept there into the table of a document, in which rows of other
stories stay as they are. Exit status: 0 nothing was lost or broken, 1 a story broke, and its error says where.
"""

import argparse
import os
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Iterable, Mapping
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from pathlib import Path

from django.conf import settings

from tests.faults.private_cluster import Pair, PrivateCluster, private_cluster, private_pair
from tests.faults.real_databases import Maker, maker
from tests.faults.results import Result, figures_of, in_words, keep, kept, table
from tests.faults.rounds import histories, sqlite_stories, stopped, stories, taken_over
from tests.faults.stories import SIZES, Story

WIDTH = 72
SQLITE, POSTGRESQL = "sqlite", "postgresql"
BEGIN, END = "<!-- figures -->\n", "<!-- /figures -->\n"


class Teller:
    """Tells stories, each on a fresh database, prints and keeps their figures, and remembers whether one broke."""

    def __init__(self, asked: argparse.Namespace) -> None:
        self.asked = asked
        self.broken = 0

    def wants(self, story: Story) -> bool:
        return self.asked.only.casefold() in story.name.casefold()

    def wants_any(self, told: Iterable[Story]) -> bool:
        return any(map(self.wants, told))

    def tell(self, where: str, databases: Maker, told: Iterable[Story], *, at_once: int = 1) -> None:
        with ThreadPoolExecutor(at_once) as pool:
            for _done in pool.map(lambda story: self._one(where, databases, story), filter(self.wants, told)):
                pass

    def _one(self, where: str, databases: Maker, story: Story) -> None:
        started, figures, error = time.monotonic(), {}, ""
        try:
            with databases.fresh() as database:
                figures = figures_of(story.tell(database))
        except Exception:
            self.broken += 1
            error = traceback.format_exc()
        seconds = time.monotonic() - started
        outcome = f"BROKEN\n{error}" if error else in_words(figures)
        print(f"{where:<11}{story.name:<{WIDTH}}{outcome}  ({seconds:.0f} s)", flush=True)
        told = (story.fault, story.part, story.count, story.unit, story.goal)
        keep(
            self.asked.results,
            Result(where, *told, str(datetime.now(UTC).date()), round(seconds, 1), figures, error),
        )


def tell_all(teller: Teller) -> None:
    asked = teller.asked
    places = [(SQLITE, "")] if asked.on in ("", SQLITE) else []
    server = os.environ.get("DATABASE_URL", "")
    if server.startswith("postgres") and asked.on in ("", POSTGRESQL):
        places.append((POSTGRESQL, server))
    for where, url in places:
        with tempfile.TemporaryDirectory() as folder, maker(Path(folder), url) as databases:
            teller.tell(where, databases, stories(asked))
            if not url:
                teller.tell(where, databases, sqlite_stories(asked))
            teller.tell(where, databases, histories(asked), at_once=asked.at_once)
    if asked.stops and asked.on in ("", POSTGRESQL):
        stop_servers(teller)


def stop_servers(teller: Teller) -> None:
    with private_cluster() as cluster:
        if cluster is None:
            print("PostgreSQL's programs are not installed here: no server to stop.")
            return
        with tempfile.TemporaryDirectory() as folder, maker(Path(folder), cluster.url) as databases:
            teller.tell(POSTGRESQL, databases, stopped(teller.asked, cluster))
    if not teller.wants_any(taken_over(teller.asked, Pair(cluster, cluster))):
        return
    with private_pair() as pair:
        assert pair is not None
        with tempfile.TemporaryDirectory() as folder, maker(Path(folder), pair.url) as databases:
            teller.tell(POSTGRESQL, databases, taken_over(teller.asked, pair))


def full_sizes(parser: argparse.ArgumentParser) -> Mapping[str, int]:
    """How much of each story is its full size, in the order in which they are told."""
    never = PrivateCluster(Path(), Path())  # is not started, and nothing is told on it
    asked, full = parser.parse_args([]), Counter[str]()
    both = Pair(never, never)
    of_servers = (stopped(asked, never), taken_over(asked, both))
    for told in (stories(asked), sqlite_stories(asked), histories(asked), *of_servers):
        of_these = Counter[str]()
        for story in told:
            of_these[story.fault] += story.count
        full |= of_these  # some are told in a way of its own on each database
    return full


def write_into(document: Path, results: Iterable[Result], full: Mapping[str, int]) -> None:
    """Put the table of these results between its two marks; of the one there, rows stay that they do not tell anew."""
    before, rest = document.read_text(encoding="utf-8").split(BEGIN)
    earlier, after = rest.split(END)
    figures = table(results, full, earlier)
    document.write_text(f"{before}{BEGIN}\n{figures}\n{END}{after}", encoding="utf-8")


def options() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m tests.faults",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    for name, default, what in SIZES:
        parser.add_argument(f"--{name}", type=int, default=default, help=f"{what} (default: {default})")
    parser.add_argument("--seed", type=int, default=1, help="what all of it is drawn from")
    parser.add_argument("--only", default="", help="tell only the stories whose name holds these words")
    parser.add_argument(
        "--on", choices=("", SQLITE, POSTGRESQL), default="", help="tell on this database only"
    )
    cores = os.cpu_count() or 1
    parser.add_argument("--at-once", type=int, default=cores, help="random histories told at once")
    parser.add_argument(
        "--results", type=Path, default=settings.DATA_DIR / "faults.jsonl", help="where figures are kept"
    )
    parser.add_argument("--write", type=Path, help="the document whose table is written anew")
    return parser


def main() -> int:
    parser = options()
    asked = parser.parse_args()
    asked.results.parent.mkdir(parents=True, exist_ok=True)
    teller = Teller(asked)
    tell_all(teller)
    if asked.write:
        write_into(asked.write, kept(asked.results), full_sizes(parser))
    print(f"{teller.broken} stories broke." if teller.broken else "Nothing was lost, halved or broken.")
    return 1 if teller.broken else 0


if __name__ == "__main__":
    sys.exit(main())
