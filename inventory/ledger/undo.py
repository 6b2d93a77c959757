"""Taking back with one touch: what was posted a moment ago by mistake, as long as nothing stands on it."""

from datetime import datetime, timedelta

from inventory.ledger.models import Lot, Posting, PostingKind
from inventory.ledger.reversals import obstacle_to_reversal

FOR = timedelta(hours=1)
A_MINUTE = timedelta(minutes=1)
# What a finished piece has gone through is taken back on the piece's own pages, so that its state follows.
KINDS = (
    PostingKind.OPENING,
    PostingKind.DELIVERY,
    PostingKind.MIX,
    PostingKind.SESSION,
    PostingKind.DECANT,
    PostingKind.WRITE_OFF,
    PostingKind.STOCKTAKE,
)


def minutes_left(recorded_at: datetime, *, at: datetime) -> int:
    """Whole minutes, begun ones counted, in which something recorded then can still be taken back with one touch."""
    left = recorded_at + FOR - at
    return max(-(-left // A_MINUTE), 0)


def minutes_to_undo(posting: Posting, *, at: datetime) -> int:
    """Minutes in which this posting is offered for one touch; none when something stands on it. Reads only."""
    left = minutes_left(posting.recorded_at, at=at)
    if not left or posting.kind not in KINDS or obstacle_to_reversal(posting):
        return 0
    return left


def standing_corrections(posting: Posting) -> int:
    """How many corrections of a posting would be taken back with it."""
    return posting.corrected_by.filter(reversed_by__isnull=True).count()


def latest_at(lot: Lot) -> Posting | None:
    """The last posting that mixed, decanted or wrote off something of a lot, unless it was reversed."""
    kinds = [PostingKind.MIX, PostingKind.DECANT, PostingKind.WRITE_OFF]
    standing = Posting.objects.filter(kind__in=kinds, entries__lot=lot, reversed_by__isnull=True)
    return standing.order_by("-number").first()
