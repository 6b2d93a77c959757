"""Readers: what a contact has reserved and borrowed, for its page and for its own copy of what is kept."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from costing.contacts.models import Contact
from costing.pieces.models import Piece


@dataclass(frozen=True, slots=True)
class Dealing:
    """Something between the studio and a contact: a piece reserved, lent or bought, or one to be made.

    That one has no piece yet: `commission` is its number and what is wanted. Money is in millionths.
    """

    what: str
    piece: Piece | None
    on: date
    until: date | None = None
    price: int | None = None
    note: str = ""
    commission: tuple[int, str] | None = None

    @property
    def title(self) -> str:
        if self.piece is not None:
            return self.piece.title
        return self.commission[1] if self.commission else ""


_readers: list[Callable[[Contact], Sequence[Dealing]]] = []


def register_dealings(read: Callable[[Contact], Sequence[Dealing]]) -> None:
    """Register what a later room keeps of a contact."""
    if read not in _readers:
        _readers.append(read)


def dealings_with(contact: Contact) -> list[Dealing]:
    """Everything between the studio and a contact, the latest first."""
    dealings = [dealing for read in _readers for dealing in read(contact)]
    return sorted(dealings, key=_order, reverse=True)


def _order(dealing: Dealing) -> tuple[date, int]:
    return dealing.on, dealing.piece.pk if dealing.piece else 0


def everything_about(contact: Contact, money: Callable[[int], str]) -> dict[str, Any]:
    """All that is kept of a contact as plain JSON, for the contact to have. Days are ISO 8601, prices as text."""
    return {
        "name": contact.name,
        "reach": contact.reach,
        "note": contact.note,
        "dealings": [
            {
                "what": str(dealing.what),
                "piece": dealing.title,
                "on": dealing.on.isoformat(),
                "until": dealing.until.isoformat() if dealing.until else None,
                "price": None if dealing.price is None else money(dealing.price),
                "note": dealing.note,
            }
            for dealing in dealings_with(contact)
        ],
    }
