"""Writers for pieces: made from pours, moved on, finished, packed, priced, and split again.

Money is millionths of the currency unit, quantities thousandths of a material's base unit. A writer updates the
piece that it is given and returns it; a piece that somebody else has moved on since it was read is refused.
"""

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date

from costing.errors import PieceError, StillDrying
from costing.pieces.actions.photos import photo_files
from costing.pieces.actions.steps import hold, refuse_day, refuse_pours, refuse_price, take_step
from costing.pieces.calculations import ENDS, WORKABLE, State, Way, check_step, possibilities
from costing.pieces.models import DESCRIPTION, Labour, Piece, PiecePour, PieceStep
from costing.pieces.queries import is_judged_dry, pours_of, ready_on
from inventory.ledger.models import Entry, EntryRole, Posting, PostingKind
from inventory.ledger.posting import LockedLedger, open_ledger
from inventory.recipes.actions.mixes import Ingredient
from inventory.sessions.actions.work import Work, add_to_work
from inventory.sessions.models import Pour
from studio.auditing.edit_conflicts import refuse_stale
from studio.auditing.recording import record_change
from studio.auditing.reference_rows import refuse_invalid
from studio.auditing.writing import create_all
from studio.photos import remove_after_commit
from studio.preferences.models import Studio
from studio.submission import Submission, transaction
from studio.translation import _, ngettext, quoted


@dataclass(frozen=True, slots=True)
class PieceFacts:
    """A piece as it is made of pours. The asking price is in millionths, tax included."""

    title: str
    pours: Iterable[Pour]
    description: str = ""
    size_note: str = ""
    price: int | None = None
    series: str = ""
    series_number: int | None = None
    edition: str = ""
    year: int | None = None


def make_piece(*, facts: PieceFacts, submission: Submission) -> Piece:
    """Make a piece of one or several good pours. Raises PieceError for pours that cannot be (part of) a piece."""
    # The lock keeps a session from being reversed, and a pour from being sold, while its piece is made.
    with open_ledger(submission):
        refuse_price(facts.price)
        asked = [pour.pk for pour in facts.pours]
        chosen = list(Pour.objects.filter(pk__in=asked).order_by("pk").select_related("session"))
        refuse_pours(chosen, asked=len(asked))
        piece = Piece(made_on=max(pour.session.held_on for pour in chosen), price=facts.price)
        for name in DESCRIPTION:
            setattr(piece, name, getattr(facts, name))
        return add_piece(piece, chosen, submission=submission)


def add_piece(piece: Piece, pours: Iterable[Pour], *, submission: Submission) -> Piece:
    """Save a piece of these pours, and the first of its steps. Raises InputError by column."""
    refuse_invalid(piece)
    piece.save(force_insert=True)
    create_all(PiecePour(piece=piece, pour=pour) for pour in pours)
    PieceStep.objects.create(
        piece=piece,
        to_state=piece.state,
        on=piece.made_on,
        recorded_at=submission.at,
        recorded_by=submission.by,
    )
    return piece


def describe_piece(piece: Piece, *, submission: Submission, seen: int | None = None) -> Piece:
    """Write down what is said of a piece, whatever has become of it. Raises InputError by column, EditConflict."""
    with transaction(submission):
        now = Piece.objects.select_for_update().get(pk=piece.pk)
        refuse_stale(now, seen=seen, fields=DESCRIPTION)
        refuse_invalid(piece)
        piece.save(update_fields=DESCRIPTION)
        return piece


def move_on(*, piece: Piece, to: str, submission: Submission, note: str = "", anyway: bool = False) -> Piece:
    """Move a piece a step on or back. Raises StepRefused, StatusConflict, and StillDrying unless `anyway`."""
    with transaction(submission):
        hold(piece)
        check_step(piece.title, piece.state, to)
        if to == State.FINISHED and piece.state == State.DRY:
            refuse_wet(piece, submission.on, anyway)
        take_step(piece, State(to), Way.STEP, submission=submission, note=note)
        return piece


@dataclass(frozen=True, slots=True)
class WorkFacts:
    """What went into a piece after its session: materials in thousandths of their base units, and minutes."""

    materials: Sequence[Ingredient] = ()
    minutes: int = 0
    work: str = ""
    note: str = ""


def finish_piece(
    *,
    piece: Piece,
    facts: WorkFacts,
    submission: Submission,
    confirm_gain: bool = False,
    anyway: bool = False,
) -> Piece:
    """Varnish a dry piece and add its hardware; or add a further coat to one that is finished already.

    Raises StillDrying before the studio's drying time is over unless `anyway`, NotEnough with every shortfall.
    """
    with _work_on(piece, EntryRole.FINISH, facts, submission) as ledger:
        if ledger is None:
            return as_it_stands(piece)
        if piece.state == State.DRY:
            refuse_wet(piece, submission.on, anyway)
        elif not facts.materials:
            raise PieceError(
                _(
                    "“{title}” is already finished. Choose what was added, or add minutes only.",
                    title=piece.title,
                )
            )
        if facts.materials:
            _charge(ledger, piece, facts, EntryRole.FINISH, confirm_gain)
        write_labour(ledger, piece, facts.work or "Finishing", facts.minutes)
        if piece.state == State.DRY:
            take_step(piece, State.FINISHED, Way.STEP, submission=submission, note=facts.note)
        return piece


def pack_piece(
    *, piece: Piece, facts: WorkFacts, submission: Submission, confirm_gain: bool = False
) -> Piece:
    """Charge packing to an unsold piece. Raises PieceError when it has left, NotEnough with every shortfall."""
    with _work_on(piece, EntryRole.PACKING, facts, submission) as ledger:
        if ledger is None:
            return as_it_stands(piece)
        _charge(ledger, piece, facts, EntryRole.PACKING, confirm_gain)
        write_labour(ledger, piece, facts.work or "Packing", facts.minutes)
        return piece


def add_labour(*, piece: Piece, work: str, minutes: int, submission: Submission) -> Labour:
    """Add minutes worked on a piece after its session, on the day of the submission.

    Raises PieceError for a piece that has left, and for no minutes.
    """
    asked = ["labour", piece, work, minutes, submission.on]
    with open_ledger(submission, facts=asked) as ledger:
        earlier = ledger.earlier_record(Labour)
        if earlier is not None:
            return earlier
        hold(piece)
        if piece.state in ENDS:
            raise PieceError(_("“{title}” is {state}: its cost is final.", **_title_and_state(piece)))
        refuse_day(piece, submission)
        labour = write_labour(ledger, piece, work, minutes)
        if labour is None:
            raise PieceError(_("Enter the minutes worked, above zero."))
        return labour


def set_price(*, piece: Piece, price: int | None, submission: Submission, seen: int | None = None) -> Piece:
    """Set the asking price, tax included, or take it off.

    Raises PieceError for a piece that has left, and EditConflict.
    """
    with transaction(submission):
        hold(piece)
        refuse_stale(piece, seen=seen, fields=["price"])
        if piece.state in ENDS:
            raise PieceError(
                _("“{title}” is {state}: it no longer needs an asking price.", **_title_and_state(piece))
            )
        refuse_price(price)
        piece.price = price
        piece.save(update_fields=["price"])
        return piece


def split_piece(*, piece: Piece, submission: Submission, seen: int | None = None) -> None:
    """Make pours of a piece again: the piece, its photo, its minutes and its history go. No paint and no money moves.

    Raises PieceError for a piece that has left or was sold once, or that was finished or packed; EditConflict.
    """
    with open_ledger(submission):
        hold(piece)
        refuse_stale(piece, seen=seen)
        refuse_to_split(piece)
        record_change(piece, field="pours", old=[pour.label for pour in pours_of(piece)], new=None)
        remove_after_commit(photo_files(piece))
        Labour.objects.filter(piece=piece).delete()
        PieceStep.objects.filter(piece=piece).delete()
        PiecePour.objects.filter(piece=piece).delete()
        piece.delete()


def refuse_to_split(piece: Piece) -> None:
    """Raise PieceError, saying what to do first, unless nothing stands on the piece."""
    opening = Posting.objects.filter(
        kind=PostingKind.OPENING, session__pours__piece_part__piece=piece
    ).first()
    if opening is not None:
        facts = {"title": piece.title, "number": opening.number}
        raise PieceError(
            _("“{title}” was brought in finished. Reverse ledger no. {number} to take it out.", **facts)
        )
    if piece.state in ENDS:
        facts = {"title": piece.title, "state": State(piece.state).words, "ways": possibilities(piece.state)}
        raise PieceError(_("“{title}” is {state}, so it cannot be split. You can: {ways}.", **facts))
    if piece.sale_lines.exists():
        raise PieceError(
            _(
                "“{title}” was sold and returned. It stays a piece, so that the sale keeps its record.",
                title=piece.title,
            )
        )
    if piece.packed_for.exists():
        raise PieceError(
            _(
                "“{title}” was packed for a market day. It stays a piece, so that the day keeps its record.",
                title=piece.title,
            )
        )
    if piece.placements.exists():
        raise PieceError(
            _(
                "“{title}” was moved or lent. It stays a piece, so that its history keeps its record.",
                title=piece.title,
            )
        )
    charged = _charged_since(piece)
    if charged:
        numbers = ", ".join(str(number) for number in charged)
        raise PieceError(
            ngettext(
                "“{title}” was finished or packed. Reverse ledger no. {numbers} first.",
                "“{title}” was finished or packed. Reverse ledger nos. {numbers} first.",
                len(charged),
                title=piece.title,
                numbers=numbers,
            )
        )


def pieces_upon(posting: Posting) -> str:
    """Why a session is not reversed while its pours are in pieces: they would be pieces of nothing.

    Pieces that were brought in finished go with what brought them in, unless something has happened to them since.
    """
    if posting.kind == PostingKind.OPENING:
        brought_in = Piece.objects.filter(parts__pour__session__posting=posting).order_by("pk").distinct()
        return next((reason for piece in brought_in if (reason := _since_it_came(piece))), "")
    titles = _titles_upon(Pour.objects.filter(session__posting=posting))
    if not titles:
        return ""
    return ngettext(
        "The piece {titles} is made from its pours. Split that piece first, then reverse the session.",
        "The pieces {titles} are made from its pours. Split those pieces first, then reverse the session.",
        len(titles),
        titles=", ".join(_("“{title}”", title=title) for title in titles),
    )


def _since_it_came(piece: Piece) -> str:
    """What has happened to a piece that was brought in finished, and what to do first; nothing where nothing has."""
    facts = _title_and_state(piece)
    if piece.state in (*ENDS, State.RESERVED):
        return _("“{title}” is {state}. First you can: {ways}.", ways=possibilities(piece.state), **facts)
    if piece.sale_lines.exists() or piece.packed_for.exists():
        return _(
            "“{title}” was sold once or packed for a market day, and that stays on record. "
            "Write it off instead.",
            **facts,
        )
    place = piece.placements.order_by("-pk").first()
    if place is not None and (place.is_lent or (place.location is not None and place.location.is_gallery)):
        return _("“{title}” is lent or with a gallery. Record its return first.", **facts)
    if charged := _charged_since(piece):
        return ngettext(
            "“{title}” was finished or packed. Reverse ledger no. {numbers} first.",
            "“{title}” was finished or packed. Reverse ledger nos. {numbers} first.",
            len(charged),
            title=piece.title,
            numbers=", ".join(str(number) for number in charged),
        )
    return ""


def pieces_made_of(pours: Sequence[Pour]) -> str:
    """Why pours are not struck out of a session while pieces are made of them."""
    titles = _titles_upon(pours)
    if not titles:
        return ""
    return ngettext(
        "The piece {titles} is made from it. Split that piece first.",
        "The pieces {titles} are made from it. Split those pieces first.",
        len(titles),
        titles=", ".join(quoted(title) for title in titles),
    )


def _titles_upon(pours: Iterable[Pour]) -> list[str]:
    pieces = Piece.objects.filter(parts__pour__in=pours).order_by("pk")
    return list(dict.fromkeys(pieces.values_list("title", flat=True)))


@contextmanager
def _work_on(
    piece: Piece, role: EntryRole, facts: WorkFacts, submission: Submission
) -> Iterator[LockedLedger | None]:
    """Open the ledger for a piece that may be worked on, and lock it; None where this work was recorded before."""
    with open_ledger(submission, facts=[role, piece, submission.on, facts]) as ledger:
        # Work may be minutes alone: it is known again by its posting or by its labour.
        if ledger.earlier is not None or ledger.earlier_record(Labour) is not None:
            yield None
            return
        hold(piece)
        refuse_unworkable(piece, role)
        refuse_day(piece, submission)
        yield ledger


def _charge(
    ledger: LockedLedger, piece: Piece, facts: WorkFacts, role: EntryRole, confirm_gain: bool
) -> None:
    add_to_work(
        ledger,
        work=[Work(pours_of(piece), facts.materials)],
        role=role,
        note=facts.note or piece.title,
        confirm_gain=confirm_gain,
    )


def refuse_wet(piece: Piece, on: date, anyway: bool) -> None:
    """Raise StillDrying before the studio's drying time is over, unless she wants it anyway or judged it dry."""
    studio = Studio.current()
    ready = ready_on(piece, studio)
    if on < ready and not anyway and not is_judged_dry(piece):
        raise StillDrying(piece.title, studio.varnish_after_days, ready)


def refuse_unworkable(piece: Piece, role: EntryRole) -> None:
    """Raise PieceError, saying what can be done with the piece, unless it may be worked on."""
    if piece.state in WORKABLE:
        return
    facts = {**_title_and_state(piece), "ways": possibilities(piece.state)}
    if role == EntryRole.PACKING:
        raise PieceError(_("“{title}” is {state}, so it cannot be packed now. You can: {ways}.", **facts))
    raise PieceError(_("“{title}” is {state}, so it cannot be finished now. You can: {ways}.", **facts))


def _title_and_state(piece: Piece) -> dict[str, str]:
    return {"title": piece.title, "state": State(piece.state).words}


def write_labour(
    ledger: LockedLedger, piece: Piece, work: str, minutes: int, *, answers: bool = True
) -> Labour | None:
    """Minutes worked on the submission's day; no minutes, no row. One row of a submission `answers` its key."""
    if minutes < 0:
        raise PieceError(_("Minutes worked are zero or more."))
    if not minutes:
        return None
    return Labour.objects.create(
        piece=piece,
        work=work,
        minutes=minutes,
        on=ledger.submission.on,
        recorded_by=ledger.submission.by,
        key=ledger.submission.key if answers else "",
        fingerprint=ledger.fingerprint if answers else "",
    )


def as_it_stands(piece: Piece) -> Piece:
    """The piece read again: the answer to a submission that was carried out before."""
    piece.refresh_from_db()
    return piece


def _charged_since(piece: Piece) -> list[int]:
    """Postings that stand and charged something to the piece."""
    charged = Entry.objects.standing().filter(
        pour__piece_part__piece=piece, role__in=[EntryRole.FINISH, EntryRole.PACKING]
    )
    return sorted(set(charged.values_list("posting_id", flat=True)))
