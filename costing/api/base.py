"""What the addresses of the price tag share."""

from costing.errors import MovedOnMeanwhile, StepRefused, StillDrying
from inventory.api.base import ShelfView
from studio.errors import MeniscusError
from studio.meanwhile import ChangedMeanwhile


class PieceView(ShelfView):
    """An address about pieces: a step that cannot be taken from where the piece is clashes with what is recorded."""

    conflicts: tuple[type[MeniscusError], ...] = (
        *ShelfView.conflicts, StepRefused, MovedOnMeanwhile, StillDrying, ChangedMeanwhile,
    )  # fmt: skip
