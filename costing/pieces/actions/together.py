"""Several pieces at once, as after a session: named, dried, finished, packed, priced and offered.

Money is millionths of the currency unit, quantities thousandths of a material's base unit.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import IO

from costing.errors import PieceError
from costing.pieces.actions.photos import adopt_photo, store_photo
from costing.pieces.actions.pieces import (
    PieceFacts,
    WorkFacts,
    describe_piece,
    make_piece,
    refuse_unworkable,
    refuse_wet,
    set_price,
    write_labour,
)
from costing.pieces.actions.steps import hold, refuse_day, take_step
from costing.pieces.calculations import State, Way
from costing.pieces.models import Labour, Piece, PiecePour
from costing.pieces.queries import with_parts
from inventory.ledger.models import EntryRole
from inventory.ledger.posting import LockedLedger, open_ledger
from inventory.materials.models import MeasureChoice
from inventory.recipes.actions.mixes import Ingredient
from inventory.sessions.actions.work import Work, add_to_work
from inventory.sessions.models import Pour, SessionPhoto
from studio.submission import Submission
from studio.translation import _
from studio.values.allocation import THOUSANDTHS, allocate

FINISHES = (State.FINISHED, State.FOR_SALE)
UP_TO = (State.DRY, *FINISHES)
NO_WORK = WorkFacts()


@dataclass(frozen=True, slots=True)
class PieceAmong:
    """One of several: a pour that becomes a piece, or a piece already made; how it is to be called and priced.

    What is None stays as it is, as does a piece's title where it is blank; `photo` is one of the session's, `upload` a
    file of its own; `seen` is the last change of the piece that whoever sent it has seen.
    """

    title: str = ""
    pour: Pour | None = None
    piece: Piece | None = None
    series_number: int | None = None
    price: int | None = None
    photo: SessionPhoto | None = None
    upload: IO[bytes] | None = None
    seen: int | None = None


@dataclass(frozen=True, slots=True)
class TogetherFacts:
    """What is done with several pieces. Materials and minutes are those of all of them together.

    `finishing` is for those that get finished now.
    """

    pieces: Sequence[PieceAmong]
    series: str = ""
    up_to: State | None = None
    finishing: WorkFacts = NO_WORK
    packing: WorkFacts = NO_WORK


def work_on_pieces(
    *, facts: TogetherFacts, submission: Submission, anyway: bool = False, confirm_gain: bool = False
) -> list[Piece]:
    """Make pieces of pours, and take them and others on together; all of it or nothing.

    What is poured out over all of them is shared by area, what is counted in whole things, as evenly as they go;
    minutes are shared by area. Raises what the single actions raise, NotEnough with every shortfall.
    """
    with open_ledger(submission, facts=facts) as ledger:
        if ledger.earlier is not None or ledger.earlier_record(Labour) is not None:
            return _as_they_stand(facts)
        if not facts.pieces:
            raise PieceError(_("Tick at least one piece."))
        pieces = _read_again([_named(each, facts.series, submission) for each in facts.pieces])
        for piece in pieces:
            refuse_day(piece, submission)
            if facts.up_to is not None and piece.state == State.WET:
                take_step(piece, State.DRY, Way.STEP, submission=submission)
        _finish(ledger, pieces, facts, anyway=anyway, confirm_gain=confirm_gain)
        is_first = not (facts.finishing.materials or facts.finishing.minutes)
        _charge(ledger, pieces, facts.packing, EntryRole.PACKING, confirm_gain=confirm_gain, answers=is_first)
        for each, piece in zip(facts.pieces, pieces, strict=True):
            if each.piece is not None and each.price is not None and each.price != piece.price:
                set_price(piece=piece, price=each.price, seen=each.seen, submission=submission)
            if facts.up_to is State.FOR_SALE and piece.state == State.FINISHED:
                take_step(piece, State.FOR_SALE, Way.STEP, submission=submission)
        # Files are written last, when nothing is refused any more.
        for each, piece in zip(facts.pieces, pieces, strict=True):
            if each.upload is not None:
                store_photo(piece=piece, upload=each.upload, submission=submission)
            elif each.photo is not None:
                adopt_photo(piece=piece, photo=each.photo, submission=submission)
        return pieces


def _named(among: PieceAmong, series: str, submission: Submission) -> Piece:
    """The piece under its name: made of the pour, or described anew where something of it was changed."""
    if among.piece is None:
        named = PieceFacts(
            title=among.title,
            pours=[among.pour] if among.pour else [],
            price=among.price,
            series=series,
            series_number=among.series_number,
        )
        return make_piece(facts=named, submission=submission)
    piece = among.piece
    hold(piece)
    wanted = {
        "title": among.title or piece.title,
        "series": series or piece.series,
        "series_number": among.series_number or piece.series_number,
    }
    if any(getattr(piece, name) != value for name, value in wanted.items()):
        for name, value in wanted.items():
            setattr(piece, name, value)
        describe_piece(piece, submission=submission, seen=among.seen)
    return piece


def _finish(
    ledger: LockedLedger, pieces: Sequence[Piece], facts: TogetherFacts, *, anyway: bool, confirm_gain: bool
) -> None:
    """Finish those that are dry and not finished yet; what is finished already takes a further coat on its own page."""
    is_worked = bool(facts.finishing.materials or facts.finishing.minutes)
    if facts.up_to not in FINISHES:
        if is_worked:
            raise PieceError(_("Say that the pieces are finished, or leave out what finishes them."))
        return
    submission = ledger.submission
    now = [piece for piece in pieces if piece.state == State.DRY]
    if is_worked and not now:
        raise PieceError(
            _("All of these are finished already. Add a further coat on the page of each piece.")
        )
    for piece in now:
        refuse_wet(piece, submission.on, anyway)
    _charge(ledger, now, facts.finishing, EntryRole.FINISH, confirm_gain=confirm_gain, answers=True)
    for piece in now:
        take_step(piece, State.FINISHED, Way.STEP, submission=submission)


def _charge(
    ledger: LockedLedger,
    pieces: Sequence[Piece],
    work: WorkFacts,
    role: EntryRole,
    *,
    confirm_gain: bool,
    answers: bool,
) -> None:
    """Charge materials and minutes to all the pieces; nothing where there are none."""
    if not work.materials and not work.minutes:
        return
    for piece in pieces:
        refuse_unworkable(piece, role)
    if work.materials:
        note = work.note or ", ".join(piece.number for piece in pieces)
        shared = share(work.materials, [piece.pours for piece in pieces])
        add_to_work(
            ledger, work=shared, role=role, note=note[:300], confirm_gain=confirm_gain, answers=answers
        )
    usual = "Finishing" if role == EntryRole.FINISH else "Packing"
    minutes = allocate(work.minutes, [_area(piece.pours) for piece in pieces])
    for piece, share_of_time in zip(pieces, minutes, strict=True):
        written = write_labour(ledger, piece, work.work or usual, share_of_time, answers=answers)
        answers = answers and written is None


def share(materials: Sequence[Ingredient], pieces: Sequence[Sequence[Pour]]) -> list[Work]:
    """What pieces, each by its pours, take of materials for all of them: by area; of what is counted whole things."""
    areas = [_area(pours) for pours in pieces]
    taken: list[list[Ingredient]] = [[] for _pours in pieces]
    for item in materials:
        things, rest = divmod(item.quantity, THOUSANDTHS)
        if item.material.measure == MeasureChoice.COUNT and not rest:
            parts = [THOUSANDTHS * part for part in allocate(things, [1] * len(pieces))]
        else:
            parts = allocate(item.quantity, areas)
        for theirs, part in zip(taken, parts, strict=True):
            if part:
                theirs.append(replace(item, quantity=part))
    return [Work(pours, theirs) for pours, theirs in zip(pieces, taken, strict=True)]


def _area(pours: Sequence[Pour]) -> int:
    return sum(pour.area for pour in pours)


def _read_again(pieces: Sequence[Piece]) -> list[Piece]:
    """The same pieces with their pours, in the same order."""
    rows = with_parts(Piece.objects.all()).in_bulk([piece.pk for piece in pieces])
    return [rows[piece.pk] for piece in pieces]


def _as_they_stand(facts: TogetherFacts) -> list[Piece]:
    """The pieces of a submission that was carried out before."""
    pours = [each.pour for each in facts.pieces if each.pour]
    made = dict(PiecePour.objects.filter(pour__in=pours).values_list("pour", "piece"))
    keys = [each.piece.pk if each.piece else made[each.pour.pk if each.pour else 0] for each in facts.pieces]
    rows = with_parts(Piece.objects.all()).in_bulk(keys)
    return [rows[key] for key in keys]
