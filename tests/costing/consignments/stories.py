"""Pieces given to a gallery on commission, sold there and taken back."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from costing.consignments.actions import ConsignmentFacts, Priced, consign, settle, take_back
from costing.consignments.models import Consignment
from costing.consignments.queries import state_of
from costing.locations.models import Location
from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.selling.models import Sale
from tests.costing.locations.stories import make_gallery
from tests.costing.stories import LATER, a_piece
from tests.days import TODAY
from tests.making import make_submission, money


def give(
    pieces: Sequence[Piece],
    *,
    gallery: Location | None = None,
    price: str = "45.00",
    on: date = LATER,
    key: str = "",
    **facts: Any,
) -> Consignment:
    """A note of pieces, all at one price."""
    lines = [Priced(piece, money(price)) for piece in pieces]
    return consign(
        facts=ConsignmentFacts(gallery or make_gallery(), lines, **facts),
        submission=make_submission(on=on, key=key),
    )


def report(note: Consignment, *pieces: Piece, price: str = "45.00", on: date = TODAY, key: str = "") -> Sale:
    """The gallery reports pieces as sold, each at this price."""
    sold = [Priced(Piece.objects.get(pk=piece.pk), money(price)) for piece in pieces]
    return settle(consignment=note, sold=sold, submission=make_submission(on=on, key=key))


def fetch(note: Consignment, *pieces: Piece, on: date = TODAY) -> None:
    """Pieces come back to the studio."""
    fresh = [Piece.objects.get(pk=piece.pk) for piece in pieces]
    take_back(consignment=note, pieces=fresh, submission=make_submission(on=on))


def fates(note: Consignment) -> list[str]:
    """What became of each piece of a note, in its order."""
    return [each.fate for each in state_of(note).lines]


def a_note() -> Consignment:
    """A note of one piece that is still at the gallery: the same one when it is asked for again."""
    known = Consignment.objects.first()
    return known or give([a_piece(title="Neap", state=State.FOR_SALE)])
