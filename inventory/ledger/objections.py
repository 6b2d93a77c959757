"""What others may have against taking a posting back: rooms above the shelf say so here when they start up."""

from collections.abc import Callable

from inventory.ledger.models import Posting

Objection = Callable[[Posting], str]

_objections: list[Objection] = []


def hear(objection: Objection) -> None:
    """Ask this before a posting is taken back: it answers with what stands in the way, or with nothing."""
    if objection not in _objections:
        _objections.append(objection)


def objection_to(posting: Posting) -> str:
    """The first objection to taking a posting back, in words for people; empty when there is none."""
    return next((said for objection in _objections if (said := objection(posting))), "")
