"""A piece's change of state and its history, in one transaction. For the writers of pieces and sales."""

from datetime import date

from django.db.models import Max

from costing.errors import PieceError, StatusConflict
from costing.pieces.calculations import State, Way, check_step
from costing.pieces.models import Piece, PieceStep
from inventory.errors import day_in_words
from inventory.ledger.models import Entry, Place
from studio.submission import Submission
from studio.translation import _


def hold(piece: Piece) -> None:
    """Lock the piece for this transaction. Raises MovedOnMeanwhile when its state is not the one that was read.

    The row lock does nothing on SQLite, where a writing transaction shuts out every other from its start.
    """
    state = Piece.objects.select_for_update().values_list("state", flat=True).get(pk=piece.pk)
    if state != piece.state:
        raise StatusConflict(
            _(
                "“{title}” is now {state}: someone changed it. Check it again before you continue.",
                title=piece.title,
                state=State(state).words,
            )
        )


def take_step(piece: Piece, to: State, way: Way, *, submission: Submission, note: str = "") -> None:
    """Write a step and the new state. The piece must be held. Raises StepRefused, PieceError for a senseless day."""
    check_step(piece.title, piece.state, to, way)
    refuse_day(piece, submission)
    PieceStep.objects.create(
        piece=piece,
        from_state=piece.state,
        to_state=to,
        on=submission.on,
        recorded_at=submission.at,
        recorded_by=submission.by,
        note=note,
    )
    piece.state = to
    piece.save(update_fields=["state"])


def refuse_day(piece: Piece, submission: Submission) -> None:
    """Raise PieceError for a day before the piece was made, or ahead of now."""
    on = submission.on
    if on < piece.made_on:
        raise PieceError(
            _(
                "“{title}” was made on {day}. Use that day or a later one.",
                title=piece.title,
                day=day_in_words(piece.made_on),
            )
        )
    if (on - submission.at.date()).days > 1:  # a day's grace: the studio's clock may run ahead of UTC
        raise PieceError(
            _("{day} is in the future. Use today's date or an earlier one.", day=day_in_words(on))
        )


def refuse_before_work(piece: Piece, on: date) -> None:
    """Raise PieceError when cost would leave the piece on a day before it came: the books hold on every date."""
    last = (
        Entry.objects.filter(
            pour__piece_part__piece=piece, place=Place.WORK, posting__reversed_by__isnull=True
        )
        .exclude(quantity=0)
        .aggregate(last=Max("posting__effective_on"))["last"]
    )
    if last is not None and on < last:
        raise PieceError(
            _(
                "The latest work on “{title}” is dated {day}. Use that day or a later one.",
                title=piece.title,
                day=day_in_words(last),
            )
        )
