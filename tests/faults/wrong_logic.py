"""Long random histories of a studio against plain books: wrong logic anywhere would make the two disagree."""

from dataclasses import dataclass

from inventory.ledger.models import Books, Entry
from tests.faults.jobs import Meet, Say
from tests.faults.real_databases import RealDatabase
from tests.inventory.seeded_studio import SeededStudio


@dataclass
class History:
    """One history, and how much it left in the ledger."""

    operations: int
    refused: int
    postings: int
    entries: int
    disagreements: int = 0


def random_history(database: RealDatabase, *, seed: int, operations: int) -> History:
    """A history drawn from a seed: costs flow first in, first out for even seeds, by weighted average for odd ones."""
    lived: History = database.do(live, seed=seed, operations=operations)
    return lived


def live(*, seed: int, operations: int, say: Say, meet: Meet) -> History:
    done = SeededStudio(seed).live_through(operations)
    return History(operations, done["refused"], Books.objects.get().last_number, Entry.objects.count())
