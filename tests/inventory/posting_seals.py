"""What the seal of a posting should be, of its entries as the database has them."""

from collections.abc import Iterable
from operator import attrgetter

from inventory.ledger.hash_chain import Line, seal_over
from inventory.ledger.models import Entry, Posting

_facts = attrgetter(*Line._fields)


def posting_hash(posting: Posting, entries: Iterable[Entry]) -> str:
    """The posting's link in the chain."""
    return seal_over(posting, map(_facts, entries))
