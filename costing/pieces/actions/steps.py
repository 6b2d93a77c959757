"""A piece's change of state and its history, and what the writers of pieces and sales refuse."""

from collections.abc import Callable, Sequence

from costing.errors import PieceError, StatusConflict
from costing.pieces.calculations import ENDS, State, Way, check_step
from costing.pieces.models import Piece, PiecePour, PieceStep
from costing.pieces.queries import covered, holding
from inventory.errors import day_in_words
from inventory.sessions.models import Pour
from studio.preferences.models import Studio
from studio.submission import Submission
from studio.translation import _
from studio.values.money import minor_units, round_to_minor

_when_it_leaves: list[Callable[[Piece], None]] = []


def when_it_leaves(write: Callable[[Piece], None]) -> None:
    """Register what is written when a piece has reached an end of its way, and when it has come back from one."""
    if write not in _when_it_leaves:
        _when_it_leaves.append(write)


def hold(piece: Piece) -> None:
    """Lock the piece for this transaction. Raises StatusConflict when its state is not the one that was read.

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
    is_at_an_end = piece.state in ENDS
    piece.state = to
    piece.save(update_fields=["state"])
    if is_at_an_end != (to in ENDS):
        for write in _when_it_leaves:
            write(piece)


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
    if submission.is_ahead(on):
        raise PieceError(
            _("{day} is in the future. Use today's date or an earlier one.", day=day_in_words(on))
        )


def refuse_price(price: int | None) -> None:
    """Raise PieceError for a price below zero, or with more decimals than the studio's currency has."""
    if price is None:
        return
    currency = Studio.current().currency
    if price < 0:
        raise PieceError(_("A price cannot be below zero."))
    if round_to_minor(price, currency) != price:
        raise PieceError(
            _(
                "{currency} has {places} decimals. Enter the price with no more than that.",
                currency=currency,
                places=minor_units(currency),
            )
        )


def refuse_pours(chosen: Sequence[Pour], *, asked: int) -> None:
    """Raise PieceError unless a piece can be made of these pours; `asked` counts the ones that were asked for."""
    if not chosen:
        raise PieceError(_("Choose at least one pour for the piece."))
    if len(chosen) != asked:
        raise PieceError(_("Choose each pour once."))
    ids = [pour.pk for pour in chosen]
    taken = dict(PiecePour.objects.filter(pour__in=ids).values_list("pour_id", "piece__title"))
    standing = set(Pour.objects.standing().filter(pk__in=ids).values_list("pk", flat=True))
    in_work, beneath = holding(chosen), covered(chosen)
    for pour in chosen:
        if pour.pk not in standing:
            raise PieceError(
                _("{pour}: its session was reversed. Choose a pour from another session.", pour=pour)
            )
        if pour.pk in taken:
            raise PieceError(
                _(
                    "{pour} is already part of “{title}”. A pour belongs to one piece only.",
                    pour=pour,
                    title=taken[pour.pk],
                )
            )
        _refuse_unfit(pour, is_beneath=pour.pk in beneath, is_in_work=pour.pk in in_work)


def _refuse_unfit(pour: Pour, *, is_beneath: bool, is_in_work: bool) -> None:
    if pour.outcome == Pour.Outcome.FAILED:
        raise PieceError(_("{pour} is marked as failed. Judge it again first, or pour over it.", pour=pour))
    if is_beneath:
        raise PieceError(_("{pour} lies beneath another pour. Choose the pour on top of it.", pour=pour))
    if not is_in_work:
        raise PieceError(_("{pour} has been written off, so it cannot be made into a piece.", pour=pour))
