"""What a story of the full rounds is, and how large each of them is by default."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from typing import Any

from tests.faults.real_databases import RealDatabase

# What can be asked for: name, how much by default, what it is.
SIZES = (
    ("requests", 200, "requests that each of 8 writers makes"),
    ("takes", 100, "takes that each of 8 tries from a lot that holds 300"),
    ("racers", 50, "senders of the same form at once"),
    ("rounds", 200, "times that writers and web workers are killed"),
    ("stops", 20, "times that a private server is stopped"),
    ("take-overs", 20, "times that a standby takes over"),
    ("failures", 20, "times that the disk is full"),
    ("outages", 10, "times that the database goes away"),
    ("seeds", 20, "random histories"),
    ("operations", 10_000, "operations in each random history"),
    ("edits", 5, "rows in which each column of the ledger is edited"),
    ("file-edits", 100, "bits turned over in copies of an SQLite file"),
    ("backups", 50, "backups made under load and restored"),
    ("clock-turns", 1_000, "postings by clocks that are wrong"),
    ("mail-kills", 100, "times that the mailing of alerts is killed"),
    ("imports", 50, "times that an import dies"),
    ("logins", 500, "codes that are raced for by ten browsers"),
    ("leftovers", 50, "restores beside the log of other books"),
    ("commits", 200, "commits whose flushes are counted"),
)

NOTHING_LOST = "0 lost, nothing by half"
NO_ERRORS = "0 errors, no wait over 2 s"
FLUSHES, EACH_FLUSHED = "commits flushed to disk", "each at least once; fewer shows without care"


@dataclass(frozen=True)
class Story:
    """One story, or a part of one: what breaks, how often, what must hold then, and how it is told on a database."""

    fault: str
    count: int
    unit: str
    goal: str
    tell: Callable[[RealDatabase], Any]
    part: str = ""

    @property
    def name(self) -> str:
        return f"{self.fault}{self.part and f', {self.part}'}: {self.count:,} {self.unit}"


def in_parts(
    fault: str, count: int, unit: str, goal: str, tell: Callable[..., Any], *, each: int, seed: int
) -> Iterator[Story]:
    """A story in parts of so many rounds `each`, every one on a database of its own, so that the parts told stay told.

    `tell` takes the database, how many `rounds`, and the `seed` that they are drawn from.
    """
    for before in range(0, count, each):
        rounds = min(each, count - before)
        part = f"{before + 1} to {before + rounds}"
        yield Story(fault, rounds, unit, goal, partial(tell, rounds=rounds, seed=seed + before), part)
