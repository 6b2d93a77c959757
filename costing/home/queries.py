"""What needs the studio now, for its front page: few rows, and the same few queries however much there is."""

from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Q

from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.pieces.queries import ready_on, standing_pieces
from costing.selling.models import Sale
from costing.selling.queries import SalesTotal, sale_lines, total_of
from inventory.purchasing.incoming import OrderState, progress_of
from inventory.purchasing.models import Order
from studio.preferences.models import Studio
from studio.translation import _

DUE_WITHIN_DAYS = 3


@dataclass(frozen=True, slots=True)
class Waiting:
    """A piece that waits for something to be done, as a kind of badge and its word; one that dries, until when."""

    piece: Piece
    kind: str
    word: str
    ready_on: date | None = None
    days_left: int = 0


def waiting_pieces(on: date, studio: Studio, *, at_most: int) -> list[Waiting]:
    """What may be varnished, what still dries, what is finished and not listed, what has no price: so many of each."""
    pieces = standing_pieces().filter(
        Q(state__in=[State.WET, State.DRY, State.FINISHED]) | Q(state=State.FOR_SALE, price__isnull=True)
    )
    by_kind: dict[str, list[Waiting]] = {"good": [], "wait": [], "note": [], "low": []}
    for piece in pieces.order_by("made_on", "pk"):
        row = _waiting(piece, on, studio)
        by_kind[row.kind].append(row)
    return [row for rows in by_kind.values() for row in rows[:at_most]]


def _waiting(piece: Piece, on: date, studio: Studio) -> Waiting:
    if piece.state == State.FOR_SALE:
        return Waiting(piece, "low", _("For sale without a price"))
    if piece.state == State.FINISHED and piece.price is None:
        return Waiting(piece, "note", _("Finished, needs a price"))
    if piece.state == State.FINISHED:
        return Waiting(piece, "note", _("Finished, not yet listed"))
    ready = ready_on(piece, studio)
    if ready <= on:
        return Waiting(piece, "good", _("Ready to varnish"))
    return Waiting(piece, "wait", _("Drying"), ready, (ready - on).days)


def month_so_far(on: date, studio: Studio) -> SalesTotal:
    """What this month's sales brought so far."""
    sales = Sale.objects.filter(
        sold_on__gte=on.replace(day=1), sold_on__lte=on, returned_on__isnull=True
    ).select_related("piece")
    return total_of(sale_lines(sales, studio.currency))


def orders_due(on: date) -> list[OrderState]:
    """Orders that are late or due within a few days, the latest first."""
    soon = on + timedelta(days=DUE_WITHIN_DAYS)
    orders = Order.objects.filter(is_closed=False, expected_on__lte=soon).select_related("supplier")
    return [state for state in progress_of(orders.order_by("expected_on", "pk")) if state.is_waiting]
