"""Writing stock down to what it will bring, and up again when that recovers; no further than its cost."""

from collections.abc import Sequence
from dataclasses import dataclass

from costing.errors import CostingError
from costing.pieces.models import Piece
from costing.reports.models import WriteDown
from costing.reports.stages import Owned, owned_on
from inventory.ledger.keyed_records import rows_under_key
from inventory.ledger.models import Lot
from inventory.ledger.posting import LockedLedger, open_ledger
from studio.submission import Submission
from studio.translation import _


@dataclass(frozen=True, slots=True)
class WriteDownFacts:
    """What one item will bring, in millionths of the currency unit: a lot or a piece."""

    value: int
    lot: Lot | None = None
    piece: Piece | None = None
    note: str = ""

    @property
    def key(self) -> tuple[int, int]:
        return self.lot.pk if self.lot else 0, self.piece.pk if self.piece else 0


def write_down_items(*, items: Sequence[WriteDownFacts], submission: Submission) -> list[WriteDown]:
    """Let each item stand at what it will bring from the submission's day on, all or none.

    One that will bring its cost or more stands at its cost again. Raises CostingError for one that held nothing then,
    and for a day in a closed period.
    """
    with open_ledger(submission, facts=["write down", list(items)]) as ledger:
        earlier = ledger.earlier_record(WriteDown)
        if earlier is not None:
            return list(rows_under_key(WriteDown, submission).order_by("pk"))
        if not items:
            raise CostingError(_("Tick at least one item."))
        closed = ledger.books.closed_through
        if closed is not None and submission.on <= closed:
            raise CostingError(_("This day is in a closed period. Use a later one."))
        owned = {each.key: each for each in owned_on(submission.on)}
        rows = [_written(item, owned.get(item.key), ledger) for item in items]
        for row in rows:
            row.save(force_insert=True)
        return rows


def _written(item: WriteDownFacts, owned: Owned | None, ledger: LockedLedger) -> WriteDown:
    if owned is None:
        raise CostingError(_("“{name}” held nothing on that day.", name=item.lot or item.piece))
    submission = ledger.submission
    return WriteDown(
        lot=item.lot,
        piece=item.piece,
        on=submission.on,
        cost=owned.money,
        value=item.value,
        amount=max(owned.money - item.value, 0),
        note=item.note,
        recorded_at=submission.at,
        recorded_by=submission.by,
        key=submission.key,
        fingerprint=ledger.fingerprint,
    )
