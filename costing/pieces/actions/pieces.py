"""Writers for pieces: made from pours, moved on, finished, packed and priced.

Money is millionths of the currency unit, quantities thousandths of a material's base unit. A writer updates the
piece that it is given and returns it; a piece that somebody else has moved on since it was read is refused.
"""

from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta

from django.db import transaction
from django.db.models import QuerySet

from costing.errors import PieceError, StillDrying
from costing.pieces.actions.refusals import covered, holding, refuse_pours, refuse_price
from costing.pieces.actions.steps import hold, refuse_day, take_step
from costing.pieces.calculations import ENDS, WORKABLE, State, Way, check_step, possibilities
from costing.pieces.models import Labour, Piece, PiecePour, PieceStep
from inventory.errors import KeyReused
from inventory.ledger import posting as ledger
from inventory.ledger.models import EntryRole, Posting
from inventory.recipes.actions.mixes import Ingredient
from inventory.sessions.actions.work import add_to_work, with_poured_over
from inventory.sessions.models import Pour, Session
from studio.accounts.models import User
from studio.auditing.edit_conflicts import refuse_stale
from studio.preferences.models import Studio
from studio.translation import _


def standing_pieces() -> QuerySet[Piece]:
    """Pieces whose sessions stand: a reversed session takes its pieces off every list."""
    return Piece.objects.exclude(parts__pour__session__posting__reversed_by__isnull=False)


def pours_of(piece: Piece) -> list[Pour]:
    """The pours a piece is made of, without what lies beneath them."""
    return list(Pour.objects.filter(piece_part__piece=piece).order_by("pk"))


def pours_without_piece(among: QuerySet[Pour] | None = None) -> list[Pour]:
    """Good pours in unsold work that no piece is made of yet, nor another pour lies upon; newest session first."""
    found = Pour.objects.standing().filter(outcome=Pour.Outcome.GOOD, piece_part__isnull=True)
    if among is not None:
        found = found.filter(pk__in=among.values("pk"))
    pours = list(
        found.select_related("technique", "surface", "session").order_by(
            "-session__held_on", "-session_id", "number"
        )
    )
    makeable = holding(pours) - covered(pours)
    return [pour for pour in pours if pour.pk in makeable]


def ready_on(piece: Piece, studio: Studio) -> date:
    """The day from which a piece may be varnished: its latest pour's, and the studio's drying time."""
    return piece.made_on + timedelta(days=studio.varnish_after_days)


def work_of(piece: Piece) -> list[Pour]:
    """The pours whose cost goes where the piece goes: its own, and those beneath that still hold cost."""
    own = pours_of(piece)
    beneath = [pour for pour in with_poured_over(own) if pour not in own]
    still = holding(beneath)
    return own + [pour for pour in beneath if pour.pk in still]


@transaction.atomic
def make_piece(
    *,
    title: str,
    pours: Iterable[Pour],
    by: User,
    at: datetime,
    description: str = "",
    size_note: str = "",
    price: int | None = None,
) -> Piece:
    """Make a piece of one or several good pours. Raises PieceError for pours that cannot be (part of) a piece."""
    ledger.lock()  # a session cannot be reversed, nor a pour sold, while its piece is made
    title = title.strip()
    if not 0 < len(title) <= 160:
        raise PieceError(_("Give the piece a title of at most 160 characters."))
    refuse_price(price)
    asked = [pour.pk for pour in pours]
    chosen = list(Pour.objects.filter(pk__in=asked).order_by("pk").select_related("session"))
    refuse_pours(chosen, asked=len(asked))
    piece = Piece.objects.create(
        title=title,
        made_on=max(pour.session.held_on for pour in chosen),
        description=description,
        size_note=size_note,
        price=price,
    )
    PiecePour.objects.bulk_create(PiecePour(piece=piece, pour=pour) for pour in chosen)
    PieceStep.objects.create(
        piece=piece, to_state=piece.state, on=piece.made_on, recorded_at=at, recorded_by=by
    )
    return piece


@transaction.atomic
def make_pieces_of_session(*, session: Session, by: User, at: datetime) -> list[Piece]:
    """Make one piece of each good pour of a session that is in work and in no piece yet; none when all of them are."""
    ledger.lock()
    return [
        make_piece(title=f"{session.title or pour.technique} {pour.number}", pours=[pour], by=by, at=at)
        for pour in pours_without_piece(Pour.objects.filter(session=session))
    ]


@transaction.atomic
def move_on(
    *, piece: Piece, to: str, on: date, by: User, at: datetime, note: str = "", anyway: bool = False
) -> Piece:
    """Move a piece a step on or back. Raises StepRefused, MovedOnMeanwhile, and StillDrying unless `anyway`."""
    hold(piece)
    check_step(piece.title, piece.state, to)
    if to == State.FINISHED and piece.state == State.DRY:
        _refuse_wet(piece, on, anyway)
    take_step(piece, State(to), Way.STEP, on=on, by=by, at=at, note=note)
    return piece


@transaction.atomic
def finish_piece(
    *,
    piece: Piece,
    materials: Sequence[Ingredient],
    on: date,
    by: User,
    at: datetime,
    minutes: int = 0,
    work: str = "Finishing",
    note: str = "",
    key: str = "",
    confirm_gain: bool = False,
    anyway: bool = False,
) -> Piece:
    """Varnish a dry piece and add its hardware; or add a further coat to one that is finished already.

    Raises StillDrying before the studio's drying time is over unless `anyway`, NotEnough with every shortfall.
    """
    ledger.lock()
    replayed = _replayed(by, key)
    if not replayed:
        hold(piece)
        _refuse_unworkable(piece, EntryRole.FINISH)
        refuse_day(piece, on, at)
        if piece.state == State.DRY:
            _refuse_wet(piece, on, anyway)
        elif not materials:
            raise PieceError(
                _(
                    "“{title}” is finished already. Choose what was added, or add minutes alone.",
                    title=piece.title,
                )
            )
    if materials:
        add_to_work(
            pours=pours_of(piece),
            materials=materials,
            role=EntryRole.FINISH,
            on=on,
            by=by,
            at=at,
            note=note or piece.title,
            key=key,
            confirm_gain=confirm_gain,
            also_asked=[work, minutes],
        )
    if replayed:
        return as_it_stands(piece)
    _write_labour(piece, work, minutes, on, by)
    if piece.state == State.DRY:
        take_step(piece, State.FINISHED, Way.STEP, on=on, by=by, at=at, note=note)
    return piece


@transaction.atomic
def pack_piece(
    *,
    piece: Piece,
    materials: Sequence[Ingredient],
    on: date,
    by: User,
    at: datetime,
    minutes: int = 0,
    work: str = "Packing",
    note: str = "",
    key: str = "",
    confirm_gain: bool = False,
) -> Piece:
    """Charge packing to an unsold piece. Raises PieceError when it has left, NotEnough with every shortfall."""
    ledger.lock()
    replayed = _replayed(by, key)
    if not replayed:
        hold(piece)
        _refuse_unworkable(piece, EntryRole.PACKING)
        refuse_day(piece, on, at)
    add_to_work(
        pours=pours_of(piece),
        materials=materials,
        role=EntryRole.PACKING,
        on=on,
        by=by,
        at=at,
        note=note or piece.title,
        key=key,
        confirm_gain=confirm_gain,
        also_asked=[work, minutes],
    )
    if replayed:
        return as_it_stands(piece)
    _write_labour(piece, work, minutes, on, by)
    return piece


@transaction.atomic
def add_labour(
    *, piece: Piece, work: str, minutes: int, on: date, by: User, at: datetime, key: str = ""
) -> Labour:
    """Add minutes worked on a piece after its session, at today's wage and overhead of the studio.

    The same request sent again gets the first's row. Raises KeyReused when it asks for something else.
    """
    hold(piece)
    earlier = Labour.objects.filter(recorded_by=by, key=key).first() if key else None
    if earlier is not None:
        if (earlier.piece_id, earlier.work, earlier.minutes, earlier.on) != (piece.pk, work, minutes, on):
            raise KeyReused(
                _("This form was sent before with other contents. Reload the page and enter it afresh.")
            )
        return earlier
    if piece.state in ENDS:
        raise PieceError(_("“{title}” is {state}: its cost is closed.", **_title_and_state(piece)))
    refuse_day(piece, on, at)
    labour = _write_labour(piece, work, minutes, on, by, key)
    if labour is None:
        raise PieceError(_("Enter the minutes worked, above zero."))
    return labour


@transaction.atomic
def set_price(*, piece: Piece, price: int | None, seen: int | None = None) -> Piece:
    """Set the asking price, tax included, or take it off.

    Raises PieceError for a piece that has left, and EditConflict.
    """
    hold(piece)
    refuse_stale(piece, seen=seen, fields=["price"])
    if piece.state in ENDS:
        raise PieceError(
            _("“{title}” is {state}: it needs no asking price any more.", **_title_and_state(piece))
        )
    refuse_price(price)
    piece.price = price
    piece.save(update_fields=["price"])
    return piece


def _refuse_wet(piece: Piece, on: date, anyway: bool) -> None:
    studio = Studio.current()
    ready = ready_on(piece, studio)
    if on < ready and not anyway:
        raise StillDrying(piece.title, studio.varnish_after_days, ready)


def _refuse_unworkable(piece: Piece, role: EntryRole) -> None:
    if piece.state in WORKABLE:
        return
    facts = {**_title_and_state(piece), "ways": possibilities(piece.state)}
    if role == EntryRole.PACKING:
        raise PieceError(
            _("“{title}” is {state}, so it cannot be packed now. From here it can {ways}.", **facts)
        )
    raise PieceError(
        _("“{title}” is {state}, so it cannot be finished now. From here it can {ways}.", **facts)
    )


def _title_and_state(piece: Piece) -> dict[str, str]:
    return {"title": piece.title, "state": State(piece.state).words}


def _write_labour(piece: Piece, work: str, minutes: int, on: date, by: User, key: str = "") -> Labour | None:
    """Minutes at the wage and overhead of this day, kept as they stand; no minutes, no row."""
    if minutes < 0:
        raise PieceError(_("Minutes worked are zero or more."))
    if not minutes:
        return None
    studio = Studio.current()
    return Labour.objects.create(
        piece=piece,
        work=work,
        minutes=minutes,
        wage_per_hour=studio.wage_per_hour,
        overhead_per_hour=studio.overhead_per_hour,
        on=on,
        recorded_by=by,
        key=key,
    )


def _replayed(by: User, key: str) -> bool:
    """Whether this request was posted before: then the ledger compares it and nothing more is written."""
    return bool(key) and Posting.objects.filter(recorded_by=by, key=key).exists()


def as_it_stands(piece: Piece) -> Piece:
    """The piece read again: the answer to a request that was carried out before."""
    piece.refresh_from_db()
    return piece
