"""What the addresses of the price tag share."""

from costing.errors import StatusConflict, StepRefused, StillDrying
from inventory.ledger.api.base import ShelfView
from studio.auditing.edit_conflicts import EditConflict
from studio.errors import MeniscusError


class PieceView(ShelfView):
    """An address about pieces: a step that cannot be taken from where the piece is clashes with what is recorded."""

    conflicts: tuple[type[MeniscusError], ...] = (
        *ShelfView.conflicts,
        StepRefused,
        StatusConflict,
        StillDrying,
        EditConflict,
    )
