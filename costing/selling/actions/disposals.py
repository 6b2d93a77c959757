"""Writers for pieces that leave without a sale: given away, kept, written off, scraped; and that come back.

Money is millionths of the currency unit. Not tax or legal advice.
"""

from django.core.exceptions import PermissionDenied

from costing.errors import PieceError
from costing.pieces.actions.outcomes import fail_with_piece, refuse_used_again, restore_with_piece
from costing.pieces.actions.pieces import as_it_stands
from costing.pieces.actions.steps import hold, take_step
from costing.pieces.calculations import RUINED, State, Way, check_step
from costing.pieces.models import Piece
from costing.pieces.queries import work_of
from inventory.errors import day_in_words
from inventory.ledger.models import Posting, PostingKind, Reason
from inventory.ledger.posting import LockedLedger, open_ledger
from inventory.ledger.reversals import post_reversal
from inventory.sessions.actions.work import write_off_work
from studio.accounts.roles import ROLE_REFUSED
from studio.submission import Submission, transaction
from studio.translation import _

GIVING = {Reason.Kind.GIFT: State.GIVEN, Reason.Kind.SAMPLE: State.GIVEN, Reason.Kind.OWN_USE: State.KEPT}


def give_away(
    *, piece: Piece, reason: Reason, market_value: int, submission: Submission, note: str = ""
) -> Piece:
    """Take a piece out as a gift, a sample or for own use, with its cost and what it would have sold for.

    Market value beside cost: the two are treated differently from country to country. Not tax or legal advice.
    """
    if reason.kind not in GIVING:
        raise PieceError(
            _(
                "“{reason}” is not a gift, a sample or own use. Write the piece off instead.",
                reason=reason.name,
            )
        )
    if market_value < 0:
        raise PieceError(_("Enter the market value, zero or more."))
    return _take_out(
        piece,
        GIVING[Reason.Kind(reason.kind)],
        reason,
        submission=submission,
        market_value=market_value,
        note=note,
    )


def write_off_piece(*, piece: Piece, reason: Reason, submission: Submission, note: str = "") -> Piece:
    """Write a piece off as a loss of its own, with all its pours and those beneath; they count as failed."""
    if reason.kind != Reason.Kind.LOSS:
        raise PieceError(
            _("“{reason}” is not a loss. Choose what happened to the piece.", reason=reason.name)
        )
    return _take_out(piece, State.WRITTEN_OFF, reason, submission=submission, note=note)


def scrape_piece(*, piece: Piece, submission: Submission, note: str = "") -> Piece:
    """Take a piece out whose surface is used again: its pours count as failed and can be poured over.

    No cost moves. It stays with the surface in unsold work, and becomes a cost of the piece that is poured over it; or,
    when the surface is thrown away in the end, the loss that it is thrown away as.
    """
    with transaction(submission):
        hold(piece)
        take_step(piece, State.SCRAPED, Way.DISPOSAL, submission=submission, note=note)
        fail_with_piece(piece)
        return piece


def bring_back_piece(*, piece: Piece, submission: Submission, note: str = "") -> Piece:
    """Bring back a piece that left by mistake: its state and its pours' outcomes as before, its posting reversed.

    A scraped piece has no posting; it comes back as long as its surface was not used again. Raises PieceError.
    """
    with open_ledger(submission, facts=["bring back", piece, note]) as ledger:
        if ledger.earlier is not None:
            return as_it_stands(piece)
        hold(piece)
        bring_back_under(ledger, piece, note=note)
        return piece


def bring_back_under(ledger: LockedLedger, piece: Piece, *, note: str, answers: bool = True) -> None:
    """The same of a piece that is held, as a part of what a submission does."""
    submission, last = ledger.submission, piece.steps.order_by("-pk").first()
    if last is None or not last.from_state or last.to_state != piece.state:
        raise PieceError(_("“{title}” has nothing to reverse.", title=piece.title))
    check_step(piece.title, piece.state, last.from_state, Way.BROUGHT_BACK)
    if piece.state in GIVING.values() and not submission.by.sees_money:  # whose market value would be lost
        raise PermissionDenied(str(ROLE_REFUSED))
    if piece.state == State.SCRAPED:
        refuse_used_again(piece)
    else:
        _reverse_disposal(ledger, piece, note, answers=answers)
    take_step(piece, State(last.from_state), Way.BROUGHT_BACK, submission=submission, note=note)
    restore_with_piece(piece)
    piece.market_value = None
    piece.save(update_fields=["market_value"])


def _reverse_disposal(ledger: LockedLedger, piece: Piece, note: str, *, answers: bool) -> None:
    submission = ledger.submission
    posting = (
        Posting.objects.filter(
            kind=PostingKind.PIECE_WRITE_OFF, entries__pour__piece_part__piece=piece, reversed_by__isnull=True
        )
        .distinct()
        .get()
    )
    if submission.on < posting.effective_on:
        raise PieceError(
            _(
                "“{title}” left on {day}. Use that day or a later one.",
                title=piece.title,
                day=day_in_words(posting.effective_on),
            )
        )
    post_reversal(ledger, posting, note=note, on=submission.on, answers=answers)


def _take_out(
    piece: Piece,
    to: State,
    reason: Reason,
    *,
    submission: Submission,
    note: str,
    market_value: int | None = None,
) -> Piece:
    asked = [to, piece, reason, market_value, submission.on, note]
    with open_ledger(submission, facts=asked) as ledger:
        if ledger.earlier is not None:
            return as_it_stands(piece)
        hold(piece)
        check_step(piece.title, piece.state, to, Way.DISPOSAL)
        write_off_work(
            ledger, pours=work_of(piece), reason=reason, note=note or f"{reason.name}: {piece.title}"
        )
        take_step(piece, to, Way.DISPOSAL, submission=submission, note=note)
        if to in RUINED:
            fail_with_piece(piece)
        piece.market_value = market_value
        piece.save(update_fields=["market_value"])
        return piece
