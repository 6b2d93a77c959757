"""Writers of where pieces are: moved, lent and reserved. A piece is in one place, and whoever comes second is told.

A moved piece is still hers: nothing here posts to the ledger.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from costing.contacts.actions import add_contact
from costing.contacts.models import Contact
from costing.errors import PieceError
from costing.locations.models import Location, Placement, Reservation
from costing.locations.queries import current_placements, reservations_of
from costing.pieces.actions.steps import hold, refuse_day, take_step
from costing.pieces.calculations import ENDS, State, Way
from costing.pieces.models import Piece
from costing.pricing.actions import add_channel
from costing.pricing.models import ChannelTerms
from inventory.errors import day_in_words
from inventory.ledger.posting import LockedLedger, open_ledger
from studio.auditing.reference_rows import save_row
from studio.auditing.writing import set_all
from studio.errors import InputError, NeedsConfirmation, Question
from studio.submission import Submission, transaction
from studio.translation import _


@dataclass(frozen=True, slots=True)
class Person:
    """For whom or to whom: a contact that there is, or a new one by its name. Raises InputError."""

    contact: Contact | None = None
    new_name: str = ""

    def __post_init__(self) -> None:
        if (self.contact is None) == (not self.new_name.strip()):
            advice = _("Choose a contact, or write the name of a new one: one of the two.")
            raise InputError(advice, field="contact")

    def named(self, submission: Submission) -> Contact:
        return self.contact or add_contact(name=self.new_name, submission=submission)


def add_location(
    location: Location, *, terms: ChannelTerms, adds_contact: bool, submission: Submission
) -> Location:
    """Add a location, with its sales channel where that is new as well, and with its contact: all of it or nothing.

    Raises InputError naming the column.
    """
    with transaction(submission):
        if location.channel is not None and location.channel.pk is None:
            location.channel = add_channel(location.channel, terms, submission=submission)
        if adds_contact and location.is_gallery and location.contact is None:
            location.contact = add_contact(name=location.name, submission=submission)
        saved: Location = save_row(location, submission=submission)
        return saved


def move_pieces(
    *, pieces: Sequence[Piece], to: Location | None, submission: Submission, note: str = ""
) -> list[Placement]:
    """Take pieces to a location, or with None back to the studio; all of them, or none. Those already there stay.

    Raises PieceError for a piece that has left, and for a day before it came to where it is now; InputError for a
    gallery, where pieces come by a consignment note.
    """
    if to is not None and not to.is_active:
        raise InputError(_("“{name}” is no longer in use. Choose another location.", name=to), field="to")
    if to is not None and to.is_gallery:
        advice = _("Pieces go to a gallery with a consignment note. Write one for “{name}”.", name=to)
        raise InputError(advice, field="to")
    with open_ledger(submission, facts=["move", sorted(piece.pk for piece in pieces), to, note]) as ledger:
        earlier = ledger.earlier_record(Placement)
        if earlier is not None:
            return list(Placement.objects.filter(recorded_by=submission.by, key=submission.key))
        if not pieces:
            raise PieceError(_("Tick at least one piece."))
        placements: list[Placement] = []
        for piece in sorted(pieces, key=lambda piece: piece.pk):
            last = placeable(piece, submission)
            if last and not last.is_lent and last.location_id == (to.pk if to else None):
                continue
            if last is None and to is None:
                continue
            placements.append(place(ledger, piece, Placement(location=to, note=note, after=last)))
        return placements


def lend_piece(
    *, piece: Piece, to: Person, submission: Submission, until: date | None = None, note: str = ""
) -> Placement:
    """Lend a piece to a contact, until a day or without one. Raises PieceError, InputError naming the field."""
    with open_ledger(submission, facts=["lend", piece, to, until, note]) as ledger:
        earlier = ledger.earlier_record(Placement)
        if earlier is not None:
            return earlier
        refuse_until(until, submission)
        last = placeable(piece, submission)
        contact = to.named(submission)
        lent = Placement(is_lent=True, contact=contact, until=until, note=note, after=last)
        return place(ledger, piece, lent)


def reserve_piece(
    *, piece: Piece, to: Person, submission: Submission, until: date | None = None, note: str = ""
) -> Reservation:
    """Reserve a piece for a contact; or, where it is reserved already, say anew for whom and until when.

    Raises StepRefused for a piece that cannot be reserved now, InputError naming the field, NeedsConfirmation where
    that would take it from another contact.
    """
    with open_ledger(submission, facts=["reserve", piece, to, until, note]) as ledger:
        earlier = ledger.earlier_record(Reservation)
        if earlier is not None:
            return earlier
        refuse_until(until, submission)
        hold(piece)
        if piece.state == State.RESERVED:
            _ask_about_other(piece, to, submission)
        else:
            take_step(piece, State.RESERVED, Way.STEP, submission=submission)
        return Reservation.objects.create(
            step=piece.steps.order_by("-pk")[0],
            contact=to.named(submission),
            until=until,
            note=note,
            recorded_at=submission.at,
            recorded_by=submission.by,
            key=submission.key,
            fingerprint=ledger.fingerprint,
        )


def _ask_about_other(piece: Piece, to: Person, submission: Submission) -> None:
    held = reservations_of([piece]).get(piece.pk)
    if held is None or held.contact is None or held.contact == to.contact:
        return
    words = _(
        "“{title}” is reserved for {name}. Reserve it for somebody else instead?",
        title=piece.title,
        name=held.contact.name,
    )
    question = Question("reserved for another", words, ("piece", piece.pk, held.contact.pk))
    if question.token not in submission.confirmed:
        raise NeedsConfirmation([question])


def place(ledger: LockedLedger, piece: Piece, placement: Placement) -> Placement:
    """Write a placement of a piece that is held."""
    submission = ledger.submission
    placement.piece = piece
    placement.on = submission.on
    placement.recorded_at, placement.recorded_by = submission.at, submission.by
    placement.key, placement.fingerprint = submission.key, ledger.fingerprint
    placement.save(force_insert=True)
    return placement


def refuse_until(until: date | None, submission: Submission) -> None:
    """Raise InputError for an end before the submission's day."""
    if until is not None and until < submission.on:
        first = day_in_words(submission.on)
        raise InputError(_("Use {day} or a later day.", day=first), field="until")


def clear_notes(contact: Contact) -> None:
    """Erase what was noted beside a contact's loans and reservations. The contact's locations stay, without it."""
    for location in contact.locations.all():
        location.contact = None
        location.save(update_fields=["contact"])  # recorded, as the database's own SET NULL would not be
    set_all(Placement.objects.filter(contact=contact), contact=None, note="")
    set_all(Reservation.objects.filter(contact=contact), contact=None, note="")


def placeable(piece: Piece, submission: Submission) -> Placement | None:
    """Where a piece was last taken; it is held from here on. Raises PieceError unless it can be taken elsewhere."""
    hold(piece)
    if piece.state in ENDS:
        state = State(piece.state).words
        raise PieceError(_("“{title}” is {state}, so it cannot be moved.", title=piece.title, state=state))
    refuse_day(piece, submission)
    last = current_placements().filter(piece=piece).first()
    if last is not None and submission.on < last.on:
        day = day_in_words(last.on)
        advice = _(
            "“{title}” was last moved on {day}. Use that day or a later one.", title=piece.title, day=day
        )
        raise PieceError(advice)
    return last
