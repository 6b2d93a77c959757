"""Writers of the packing list: pieces go into boxes for a market day, and some are missing after it."""

from collections.abc import Iterable, Sequence

from costing.locations.actions import move_pieces
from costing.locations.models import Location, LocationKind
from costing.locations.queries import current_placements
from costing.markets.models import MarketDay, PackedPiece
from costing.pieces.calculations import ENDS, State
from costing.pieces.models import Piece
from studio.auditing.reference_rows import save_row
from studio.errors import InputError
from studio.submission import Submission, transaction
from studio.translation import _

LONGEST_BOX = 40


def pack(
    *, market: MarketDay, pieces: Sequence[Piece], box: str, submission: Submission
) -> list[PackedPiece]:
    """Put pieces into a market box for a day: it is where they are from then on, and a new name is a new box.

    Raises InputError, and what `move_pieces` raises.
    """
    box = " ".join(box.split())
    if not 0 < len(box) <= LONGEST_BOX:
        advice = _("Name the box, in at most {most} characters.", most=LONGEST_BOX)
        raise InputError(advice, field="box")
    if not pieces:
        raise InputError(_("Choose at least one piece."), field="pieces")
    gone = next((piece for piece in pieces if piece.state in ENDS), None)
    if gone is not None:
        words = State(gone.state).words
        advice = _("“{title}” is {state} and cannot be packed.", title=gone.title, state=words)
        raise InputError(advice, field="pieces")
    with transaction(submission):
        move_pieces(pieces=pieces, to=_box_named(box, submission), submission=submission)
        return [
            PackedPiece.objects.update_or_create(market_day=market, piece=piece, defaults={"box": box})[0]
            for piece in pieces
        ]


def unpack(*, packed: PackedPiece, submission: Submission) -> None:
    """Take a piece off the packing list, and back to the studio where it is still in its box."""
    with transaction(submission):
        PackedPiece.objects.filter(pk=packed.pk).delete()
        _to_the_studio([packed], submission)


def bring_home(*, market: MarketDay, submission: Submission) -> int:
    """Take everything back to the studio that is still in its box after a market day; return how many that were.

    What is missing stays where it was last.
    """
    with transaction(submission):
        packed = PackedPiece.objects.filter(market_day=market, is_missing=False).select_related("piece")
        return _to_the_studio(packed, submission)


def _to_the_studio(packed: Iterable[PackedPiece], submission: Submission) -> int:
    unsold = {each.piece_id: each for each in packed if each.piece.state not in ENDS}
    where = current_placements().filter(piece__in=unsold).select_related("location")
    still = [
        unsold[each.piece_id].piece
        for each in where
        if each.location is not None and each.location.name == unsold[each.piece_id].box
    ]
    if still:
        move_pieces(pieces=still, to=None, submission=submission)
    return len(still)


def _box_named(name: str, submission: Submission) -> Location:
    """The market box of a name, which may be new. Raises InputError where it is something else."""
    known = Location.objects.filter(name=name).first()
    if known is None:
        return save_row(Location(name=name, kind=LocationKind.BOX), submission=submission)
    if known.is_gallery:
        raise InputError(_("“{name}” is a gallery. Name a market box.", name=name), field="box")
    return known


def mark_missing(*, packed: PackedPiece, missing: bool, submission: Submission) -> PackedPiece:
    """Say that a packed piece was not there after the market, or that it was found again. Raises InputError."""
    with transaction(submission):
        if missing and packed.piece.state in ENDS:
            words = State(packed.piece.state).words
            raise InputError(
                _("“{title}” is {state}, so it is not missing.", title=packed.piece.title, state=words)
            )
        packed.is_missing = missing
        packed.save(update_fields=["is_missing"])
        return packed
