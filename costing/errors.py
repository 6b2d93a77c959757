"""The error family of the price tag: every refusal of the costing package descends from here."""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from inventory.errors import day_in_words
from studio.errors import MeniscusError
from studio.translation import _


class CostingError(MeniscusError):
    """Raised when a cost or a price cannot be worked out; the text says what to do instead."""


class CommissionError(CostingError):
    """Raised when a payment for a commission, or its end, makes no sense."""


class CommissionClosed(CommissionError):
    """Raised when somebody would change a commission that was sold or cancelled before."""

    is_conflict = True


class PieceError(CostingError):
    """Raised when a piece cannot be made, worked on, sold or taken out as asked."""


class StepRefused(PieceError):
    """Raised when a piece cannot go from its state to the one asked for; the text names what is possible."""

    is_conflict = True


class StatusConflict(PieceError):
    """Raised when somebody else has moved the piece on since it was read."""

    is_conflict = True


class PiecesGone(StatusConflict):
    """Raised when pieces that were to be sold have been sold or taken out before; `gone` has each with why."""

    def __init__(self, gone: Sequence[tuple[int, str]]) -> None:
        advice = _("Nothing was saved. Take it out of the sale, or check it again before you continue.")
        super().__init__(" ".join([*(reason for _piece, reason in gone), advice]))
        self.gone = tuple(gone)

    @property
    def extensions(self) -> Mapping[str, Any]:
        return {"pieces": [{"piece": piece, "reason": reason} for piece, reason in self.gone]}


class StillDrying(PieceError):
    """Raised when a piece is finished before its drying time is over: a caution that may be set aside."""

    is_conflict = True

    def __init__(self, title: str, days: int, ready_on: date) -> None:
        super().__init__(
            _(
                "“{title}” has not dried for {days} days yet: it is ready on {day}. Wait, or confirm "
                "that you want to finish it now, and follow the label of the varnish.",
                title=title,
                days=days,
                day=day_in_words(ready_on),
            )
        )
        self.ready_on = ready_on
