"""The error family of the price tag: every refusal of the costing package descends from here."""

from studio.errors import MeniscusError


class CostingError(MeniscusError):
    """Raised when a cost or a price cannot be worked out; the text says what to do instead."""
