"""What needs the studio now, for its front page: few rows, and the same few queries however much there is."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Count, Q

from costing.pieces.actions.pieces import pours_without_piece, ready_on, standing_pieces
from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.selling.models import Sale
from costing.selling.queries import SalesTotal, sale_lines, total_of
from inventory.purchasing.incoming import OrderState, progress_of
from inventory.purchasing.models import Order
from studio.preferences.models import Studio

DUE_WITHIN_DAYS = 3


@dataclass(frozen=True, slots=True)
class Drying:
    """A piece that is not finished yet, and when it may be varnished."""

    piece: Piece
    ready_on: date
    days_left: int


@dataclass(frozen=True, slots=True)
class Bench:
    """Pieces that wait for something to be done: soonest first."""

    ready: list[Drying]
    drying: list[Drying]
    to_hang: list[Piece]
    unpriced: list[Piece]
    counts: Mapping[str, int]
    loose_pours: int


def bench(on: date, studio: Studio) -> Bench:
    """What may be varnished, what still dries, what is finished and not up for sale, and what has no price."""
    waiting = standing_pieces().filter(
        Q(state__in=[State.WET, State.DRY, State.FINISHED]) | Q(state=State.FOR_SALE, price__isnull=True)
    )
    pieces = list(waiting.order_by("made_on", "pk"))
    unfinished = [
        Drying(piece, day, (day - on).days)
        for piece in pieces
        if piece.state in (State.WET, State.DRY) and (day := ready_on(piece, studio))
    ]
    counts = standing_pieces().order_by().values_list("state").annotate(Count("pk", distinct=True))
    return Bench(
        ready=[item for item in unfinished if item.days_left <= 0],
        drying=[item for item in unfinished if item.days_left > 0],
        to_hang=[piece for piece in pieces if piece.state == State.FINISHED],
        unpriced=[piece for piece in pieces if piece.state == State.FOR_SALE],
        counts=dict(counts),
        loose_pours=len(pours_without_piece()),
    )


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
