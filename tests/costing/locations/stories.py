"""Pieces that go places: a gallery on commission, a market box, somebody who borrows one."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from costing.contacts.models import Contact
from costing.locations.actions import Person, lend_piece, move_pieces, reserve_piece
from costing.locations.models import Location, LocationKind, Placement, Reservation
from costing.pieces.models import Piece
from tests.costing.stories import LATER, make_channel
from tests.making import make_submission


def make_box(name: str = "Market box 1") -> Location:
    return Location.objects.get_or_create(name=name, defaults={"kind": LocationKind.BOX})[0]


def make_gallery(name: str = "Slipway Gallery", *, commission: int = 400_000) -> Location:
    """A gallery with a sales channel of its own, which keeps 40% unless said otherwise."""
    channel = make_channel(f"{name}, on commission", commission=commission)
    facts = {"kind": LocationKind.GALLERY, "channel": channel}
    return Location.objects.get_or_create(name=name, defaults=facts)[0]


def make_contact(name: str = "Wenda Tarpot") -> Contact:
    return Contact.objects.create(name=name, reach="wenda@example.org", note="Likes blue")


def move(
    pieces: Sequence[Piece], to: Location | None, *, on: date = LATER, **submitted: Any
) -> list[Placement]:
    note = submitted.pop("note", "")
    return move_pieces(pieces=pieces, to=to, note=note, submission=make_submission(on=on, **submitted))


def lend(piece: Piece, to: Contact, *, on: date = LATER, **facts: Any) -> Placement:
    return lend_piece(piece=piece, to=Person(to), submission=make_submission(on=on), **facts)


def reserve(piece: Piece, to: Contact, *, on: date = LATER, **facts: Any) -> Reservation:
    return reserve_piece(piece=piece, to=Person(to), submission=make_submission(on=on), **facts)
