"""The error family of the price tag: every refusal of the costing package descends from here."""

from datetime import date

from studio.errors import MeniscusError


class CostingError(MeniscusError):
    """Raised when a cost or a price cannot be worked out; the text says what to do instead."""


class PieceError(CostingError):
    """Raised when a piece cannot be made, worked on or taken out as asked."""


class StepRefused(PieceError):
    """Raised when a piece cannot go from its state to the one asked for; the text names what is possible."""


class MovedOnMeanwhile(PieceError):
    """Raised when somebody else has moved the piece on since it was read."""


class StillDrying(PieceError):
    """Raised when a piece is finished before its drying time is over: a caution that may be set aside."""

    def __init__(self, title: str, days: int, ready_on: date) -> None:
        super().__init__(
            f"“{title}” has not dried for {days} days yet: it is ready on {ready_on:%d %B %Y}. Wait, or confirm "
            "that you finish it now; and follow the label of the varnish."
        )
        self.ready_on = ready_on


class SaleError(CostingError):
    """Raised when a sale or a return cannot be recorded as asked."""


class PhotoError(CostingError):
    """Raised when an uploaded file cannot serve as a photo; the text says which files can."""
