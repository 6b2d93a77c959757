"""Writers for pieces that leave other than by a sale: given away, kept for own use, spoilt; and brought back."""

from datetime import date, datetime

from django.db import transaction

from costing.errors import PieceError
from costing.pieces.actions.pieces import as_it_stands, work_of
from costing.pieces.actions.steps import hold, refuse_before_work, take_step
from costing.pieces.calculations import State, Way, check_step
from costing.pieces.models import Piece
from inventory.errors import KeyReused, day_in_words
from inventory.ledger import posting as ledger
from inventory.ledger.models import Entry, Place, Posting, PostingKind, Reason
from inventory.ledger.reversals import reverse
from inventory.sessions.actions.work import write_off_work
from studio.accounts.models import User
from studio.translation import _

GIVING = {Reason.Kind.GIFT: State.GIVEN, Reason.Kind.SAMPLE: State.GIVEN, Reason.Kind.OWN_USE: State.KEPT}


def give_away(
    *,
    piece: Piece,
    reason: Reason,
    market_value: int,
    on: date,
    by: User,
    at: datetime,
    note: str = "",
    key: str = "",
) -> Piece:
    """Take a piece out as a gift, a sample or for own use, with its cost and what it would have sold for.

    Market value beside cost: the two are treated differently from country to country. Not tax or legal advice.
    """
    if reason.kind not in GIVING:
        raise PieceError(
            _(
                "“{reason}” is not a gift, a sample or own use. Write the piece off as spoilt instead.",
                reason=reason.name,
            )
        )
    if market_value < 0:
        raise PieceError(_("Enter what the piece would have sold for, zero or more."))
    to = GIVING[Reason.Kind(reason.kind)]
    return _take_out(piece, to, reason, market_value, on=on, by=by, at=at, note=note, key=key)


def spoil(
    *, piece: Piece, reason: Reason, on: date, by: User, at: datetime, note: str = "", key: str = ""
) -> Piece:
    """Write a piece off as a loss of its own, with the cost of all its pours and those beneath."""
    if reason.kind != Reason.Kind.LOSS:
        raise PieceError(
            _("“{reason}” is not a loss. Choose what happened to the piece.", reason=reason.name)
        )
    return _take_out(piece, State.SPOILT, reason, None, on=on, by=by, at=at, note=note, key=key)


@transaction.atomic
def bring_back(*, piece: Piece, on: date, by: User, at: datetime, note: str = "", key: str = "") -> Piece:
    """Take back a gift, own use or write-off entered by mistake: its posting is reversed, its state as before."""
    ledger.lock()
    earlier = (
        Posting.objects.filter(recorded_by=by, key=key).select_related("reverses").first() if key else None
    )
    if earlier is not None:
        reverse(posting=earlier.reverses or earlier, by=by, at=at, note=note, key=key)
        return as_it_stands(piece)
    hold(piece)
    last = piece.steps.order_by("-pk").first()
    if last is None or last.to_state != piece.state:
        raise PieceError(_("“{title}” has no step to take back.", title=piece.title))
    check_step(piece.title, piece.state, last.from_state, Way.TAKEN_BACK)
    posting = (
        Posting.objects.filter(
            kind=PostingKind.SPOILT, entries__pour__piece_part__piece=piece, reversed_by__isnull=True
        )
        .distinct()
        .get()
    )
    if on < posting.effective_on:
        raise PieceError(
            _(
                "“{title}” left on {day}. Use that day or a later one.",
                title=piece.title,
                day=day_in_words(posting.effective_on),
            )
        )
    reverse(posting=posting, by=by, at=at, note=note, key=key, on=on)
    take_step(piece, State(last.from_state), Way.TAKEN_BACK, on=on, by=by, at=at, note=note)
    piece.market_value = None
    piece.save(update_fields=["market_value"])
    return piece


@transaction.atomic
def _take_out(
    piece: Piece,
    to: State,
    reason: Reason,
    market_value: int | None,
    *,
    on: date,
    by: User,
    at: datetime,
    note: str,
    key: str,
) -> Piece:
    ledger.lock()
    earlier = Posting.objects.filter(recorded_by=by, key=key).first() if key else None
    if earlier is not None:
        return _same_way_out(piece, earlier, reason, market_value, on)
    hold(piece)
    check_step(piece.title, piece.state, to, Way.WAY_OUT)
    refuse_before_work(piece, on)
    write_off_work(
        pours=work_of(piece),
        reason=reason,
        on=on,
        by=by,
        at=at,
        note=note or f"{reason.name}: {piece.title}",
        key=key,
    )
    take_step(piece, to, Way.WAY_OUT, on=on, by=by, at=at, note=note)
    piece.market_value = market_value
    piece.save(update_fields=["market_value"])
    return piece


def _same_way_out(
    piece: Piece, earlier: Posting, reason: Reason, market_value: int | None, on: date
) -> Piece:
    """The first's result for a request sent again. Raises KeyReused when it asks for something else."""
    piece = as_it_stands(piece)
    same = (
        earlier.kind == PostingKind.SPOILT
        and earlier.effective_on == on
        and piece.market_value == market_value
        and Entry.objects.filter(posting=earlier, pour__piece_part__piece=piece).exists()
        and Entry.objects.filter(posting=earlier, place=Place.LOSS, reason=reason).exists()
    )
    if not same:
        raise KeyReused(
            _("This form was sent before with other contents. Reload the page and enter it afresh.")
        )
    return piece
