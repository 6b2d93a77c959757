"""A small demo studio to look at, lived up to today because the pages ask the clock."""

from datetime import datetime

from django.utils import timezone

from costing.consignments.actions import ConsignmentFacts, Priced, consign
from costing.demo.build import build
from costing.demo.people import PEOPLE
from costing.locations.models import Location, LocationKind
from costing.pieces.actions.pieces import move_on
from costing.pieces.models import Piece, PieceState
from costing.selling.actions import give_away, write_off_piece
from inventory.ledger.models import Reason
from studio.accounts.models import Role, User
from tests.making import make_submission

SCALE = 0.1
OWNER = PEOPLE[0]


def build_small_demo() -> None:
    """A tenth of the demo's year, and a piece in each state and place that so short a year leaves empty."""
    now = timezone.now()
    build(today=timezone.localdate(), now=now, scale=SCALE)
    finished, dry, given, spoilt, hung = Piece.objects.filter(state=PieceState.FOR_SALE).order_by("pk")[:5]
    owner = User.objects.get(role=Role.OWNER)
    step(finished, PieceState.FINISHED, by=owner, at=now)
    step(dry, PieceState.FINISHED, PieceState.DRY, by=owner, at=now)
    day = timezone.localdate()
    gift = Reason.objects.filter(kind=Reason.Kind.GIFT)[0]
    give_away(
        piece=given,
        reason=gift,
        market_value=30_000_000,
        submission=make_submission(by=owner, on=day, at=now),
    )
    gallery = Location.objects.filter(kind=LocationKind.GALLERY).order_by("pk")[0]
    hanging = ConsignmentFacts(gallery, [Priced(hung, hung.price or 60_000_000)])
    consign(facts=hanging, submission=make_submission(by=owner, on=day, at=now))
    loss = Reason.objects.filter(kind=Reason.Kind.LOSS)[0]
    write_off_piece(piece=spoilt, reason=loss, submission=make_submission(by=owner, on=day, at=now))


def step(piece: Piece, *states: str, by: User, at: datetime) -> None:
    """Move a piece through these states today."""
    for state in states:
        move_on(piece=piece, to=state, submission=make_submission(by=by, on=timezone.localdate(), at=at))
