"""Writers of consignments: given to a gallery, settled as it sells, returned. Giving posts nothing: all stays hers.

Money is millionths of the currency unit; prices include tax. Not tax or legal advice.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Max

from costing.consignments.models import Consignment, ConsignmentLine
from costing.consignments.queries import Fate, state_of
from costing.errors import PieceError
from costing.locations.actions import move_pieces, place, placeable, refuse_until
from costing.locations.models import Location, Placement
from costing.pieces.actions.pieces import set_price
from costing.pieces.actions.steps import refuse_price, take_step
from costing.pieces.calculations import State, Way
from costing.pieces.models import Piece
from costing.selling.actions import PieceSold, SaleFacts, sell_together
from costing.selling.models import Sale
from inventory.ledger.posting import open_ledger
from studio.errors import InputError, refuse_all
from studio.submission import Submission
from studio.translation import _


@dataclass(frozen=True, slots=True)
class Priced:
    """A piece and a price, tax included: what is to be asked for it, or what a buyer paid."""

    piece: Piece
    price: int


@dataclass(frozen=True, slots=True)
class ConsignmentFacts:
    """What a gallery is given, and until when. Raises InputError naming the field."""

    gallery: Location
    lines: Sequence[Priced]
    until: date | None = None
    note: str = ""

    def __post_init__(self) -> None:
        refuse_all(self._problems())

    def _problems(self) -> list[InputError]:
        problems = _problems_of(self.lines)
        if not self.gallery.is_gallery or not self.gallery.is_active:
            problems.append(InputError(_("Choose a gallery that is in use."), field="gallery"))
        return problems


def consign(*, facts: ConsignmentFacts, submission: Submission) -> Consignment:
    """Write a note and take its pieces to the gallery; they are offered for sale at the prices of the note.

    Raises StepRefused for a piece that is not finished, PieceError for one that is there already or was reserved.
    """
    with open_ledger(submission, facts=["consign", facts]) as ledger:
        earlier = ledger.earlier_record(Consignment)
        if earlier is not None:
            return earlier
        refuse_until(facts.until, submission)
        note = Consignment.objects.create(
            number=(Consignment.objects.aggregate(last=Max("number"))["last"] or 0) + 1,
            gallery=facts.gallery,
            on=submission.on,
            until=facts.until,
            note=facts.note,
            recorded_at=submission.at,
            recorded_by=submission.by,
            key=submission.key,
            fingerprint=ledger.fingerprint,
        )
        for line in sorted(facts.lines, key=lambda line: line.piece.pk):
            last = placeable(line.piece, submission)
            _offer(line, facts.gallery, last, submission)
            placed = place(ledger, line.piece, Placement(location=facts.gallery, after=last))
            ConsignmentLine.objects.create(consignment=note, placement=placed, price=line.price)
        return note


def settle(*, consignment: Consignment, sold: Sequence[Priced], submission: Submission) -> Sale:
    """Record what a gallery reports as sold as one sale, at its terms of the submission's day.

    The same submission sent again gets the sale that it made. Raises PieceError for a piece that is not there.
    """
    refuse_all(_problems_of(sold))
    gallery = consignment.gallery
    if gallery.channel is None:
        raise PieceError(_("“{name}” has no sales channel.", name=gallery))
    with open_ledger(submission):
        _refuse_others(consignment, [each.piece for each in sold], (Fate.THERE, Fate.SOLD))
        return sell_together(
            lines=[PieceSold(each.piece, each.price) for each in sold],
            channel=gallery.channel,
            facts=SaleFacts(note=str(consignment)),
            submission=submission,
        )


def take_back(
    *, consignment: Consignment, pieces: Sequence[Piece], submission: Submission, note: str = ""
) -> list[Placement]:
    """Take pieces of a note back to the studio. Raises PieceError for a piece that is not there any more."""
    with open_ledger(submission):
        _refuse_others(consignment, pieces, (Fate.THERE, Fate.RETURNED))
        return move_pieces(pieces=pieces, to=None, note=note, submission=submission)


def _offer(line: Priced, gallery: Location, last: Placement | None, submission: Submission) -> None:
    """Offer a piece for sale at the price of the note."""
    piece = line.piece
    refuse_price(line.price)
    if last is not None and last.location_id == gallery.pk:
        raise PieceError(_("“{title}” is at “{place}” already.", title=piece.title, place=gallery))
    if piece.state == State.RESERVED:
        advice = _("“{title}” is reserved. Cancel the reservation first, or leave it out.", title=piece.title)
        raise PieceError(advice)
    if piece.state != State.FOR_SALE:
        take_step(piece, State.FOR_SALE, Way.STEP, submission=submission)
    if piece.price != line.price:
        set_price(piece=piece, price=line.price, submission=submission)


def _problems_of(lines: Sequence[Priced]) -> list[InputError]:
    if not lines:
        return [InputError(_("Tick at least one piece."), field="pieces")]
    if len({line.piece.pk for line in lines}) != len(lines):
        return [InputError(_("Name each piece once."), field="pieces")]
    return [
        InputError(_("Enter a price above zero for “{title}”.", title=line.piece.title), field="pieces")
        for line in lines
        if line.price <= 0
    ]


def _refuse_others(consignment: Consignment, pieces: Sequence[Piece], fates: Sequence[Fate]) -> None:
    """Raise PieceError for a piece that is not of this note, or of which something else has become."""
    known = {each.piece.pk: each.fate for each in state_of(consignment).lines}
    for piece in pieces:
        if known.get(piece.pk) not in fates:
            raise PieceError(
                _("“{title}” is not at “{place}” on this note.", title=piece.title, place=consignment.gallery)
            )
