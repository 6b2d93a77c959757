"""Taking a piece apart again, when it was made by mistake; and why a session cannot be taken back beneath a piece."""

from costing.errors import PieceError
from costing.pieces.actions.pieces import pours_of
from costing.pieces.actions.steps import hold
from costing.pieces.calculations import ENDS, State, possibilities
from costing.pieces.models import Labour, Piece, PiecePour, PieceStep
from inventory.ledger.models import Entry, EntryRole, Posting
from inventory.ledger.posting import open_ledger
from studio.auditing.edit_conflicts import refuse_stale
from studio.auditing.recording import record_change
from studio.photos import remove_after_commit
from studio.submission import Submission
from studio.translation import _, ngettext


def take_apart(*, piece: Piece, submission: Submission, seen: int | None = None) -> None:
    """Make pours of a piece again: the piece, its photo, its minutes and its history go. No paint and no money moves.

    Raises PieceError for a piece that has left or was sold once, or that was finished or packed; EditConflict.
    """
    with open_ledger(submission):
        hold(piece)
        refuse_stale(piece, seen=seen)
        refuse_to_take_apart(piece)
        record_change(piece, field="pours", old=[pour.label for pour in pours_of(piece)], new=None)
        remove_after_commit([piece.photo, piece.thumbnail])
        Labour.objects.filter(piece=piece).delete()
        PieceStep.objects.filter(piece=piece).delete()
        PiecePour.objects.filter(piece=piece).delete()
        piece.delete()


def refuse_to_take_apart(piece: Piece) -> None:
    """Raise PieceError, saying what to do first, unless nothing stands on the piece."""
    if piece.state in ENDS:
        facts = {"title": piece.title, "state": State(piece.state).words, "ways": possibilities(piece.state)}
        raise PieceError(_("“{title}” is {state}, so it cannot be split. You can: {ways}.", **facts))
    if piece.sales.exists():
        raise PieceError(
            _(
                "“{title}” was sold and returned. It stays a piece, so that the sale keeps its record.",
                title=piece.title,
            )
        )
    charged = _charged_since(piece)
    if charged:
        numbers = ", ".join(str(number) for number in charged)
        raise PieceError(
            ngettext(
                "“{title}” was finished or packed. Reverse posting {numbers} first.",
                "“{title}” was finished or packed. Reverse postings {numbers} first.",
                len(charged),
                title=piece.title,
                numbers=numbers,
            )
        )


def pieces_upon(posting: Posting) -> str:
    """Why a session is not taken back while its pours are in pieces: they would be pieces of nothing."""
    found = (
        Piece.objects.filter(parts__pour__session__posting=posting)
        .order_by("pk")
        .values_list("title", flat=True)
    )
    titles = list(dict.fromkeys(found))
    if not titles:
        return ""
    return ngettext(
        "The piece {titles} is made from its pours. Split that piece first, then reverse the session.",
        "The pieces {titles} are made from its pours. Split those pieces first, then reverse the session.",
        len(titles),
        titles=", ".join(f"“{title}”" for title in titles),
    )


def _charged_since(piece: Piece) -> list[int]:
    """Postings that stand and charged something to the piece."""
    charged = Entry.objects.standing().filter(
        pour__piece_part__piece=piece, role__in=[EntryRole.FINISH, EntryRole.PACKING]
    )
    return sorted(set(charged.values_list("posting_id", flat=True)))
