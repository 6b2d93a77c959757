"""Reservations and loans whose last day is over, told as alerts. They name the piece, never the person."""

from collections.abc import Iterator

from django.utils.translation import gettext_lazy

from costing.locations.queries import current_placements, pieces_lent, reservations_of
from costing.pieces.calculations import State
from costing.pieces.queries import standing_pieces
from inventory.alerts.kinds import Cause, Figures, Kind, Look, Rule, day_of, page
from studio.preferences.formatting import Formatter
from studio.translation import _


def _reserved_in_words(figures: Figures, formatter: Formatter) -> str:
    day = formatter.day(day_of(figures["until"]))
    return _("It was reserved until {day}. Sell it, extend the reservation or cancel it.", day=day)


def _lent_in_words(figures: Figures, formatter: Formatter) -> str:
    day = formatter.day(day_of(figures["until"]))
    return _("It was lent until {day}. Ask for it, or move it back to the studio.", day=day)


RESERVATION_EXPIRED = Kind(
    "reservation_expired",
    gettext_lazy("Reservation expired"),
    gettext_lazy("The last day of a reservation is over, and the piece is still reserved."),
    _reserved_in_words,
    page("costing:piece"),
    urgency=83,
)
LOAN_OVERDUE = Kind(
    "loan_overdue",
    gettext_lazy("Loan overdue"),
    gettext_lazy("The last day of a loan is over, and the piece has not come back."),
    _lent_in_words,
    page("costing:piece"),
    urgency=85,
)


def expired_reservations(look: Look) -> Iterator[Cause]:
    """Pieces that are still reserved although the last day of it is over."""
    pieces = {piece.pk: piece for piece in standing_pieces().filter(state=State.RESERVED)}
    for pk, reservation in reservations_of(pieces.values()).items():
        if reservation.until is not None and reservation.is_expired(look.on):
            figures = {"name": pieces[pk].title, "until": reservation.until.isoformat()}
            yield Cause(RESERVATION_EXPIRED.code, str(pk), reservation.until, figures)


def overdue_loans(look: Look) -> Iterator[Cause]:
    """Pieces that are lent although they should have come back."""
    lent = current_placements().filter(is_lent=True, until__lt=look.on, piece__in=pieces_lent())
    for placement in lent.select_related("piece"):
        if placement.until is not None:
            figures = {"name": placement.piece.title, "until": placement.until.isoformat()}
            yield Cause(LOAN_OVERDUE.code, str(placement.piece_id), placement.until, figures)


RULES = (Rule((RESERVATION_EXPIRED,), expired_reservations), Rule((LOAN_OVERDUE,), overdue_loans))
