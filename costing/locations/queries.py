"""Readers: where pieces are and since when, for whom they are reserved, and what each location holds.

Money is millionths of the currency unit.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import OuterRef, Q, QuerySet, Subquery

from costing.contacts.models import Contact
from costing.locations.models import Location, Placement, Reservation
from costing.pieces.calculations import ENDS, State
from costing.pieces.models import Piece, PieceStep
from costing.pieces.queries import standing_pieces

STUDIO, LENT, LEFT = "studio", "lent", "left"


@dataclass(frozen=True, slots=True)
class Whereabouts:
    """Where one piece is, and for whom it is reserved.

    `kind` is STUDIO, LENT, LEFT (sold or otherwise gone), or the kind of its location. `placement` is its last one:
    None for a piece that never left the studio.
    """

    kind: str
    placement: Placement | None = None
    reservation: Reservation | None = None

    @property
    def location(self) -> Location | None:
        return self.placement.location if self.placement and self.kind not in (STUDIO, LEFT) else None

    @property
    def since(self) -> date | None:
        return self.placement.on if self.placement else None

    @property
    def until(self) -> date | None:
        return self.placement.until if self.placement and self.kind == LENT else None

    @property
    def lent_to(self) -> Contact | None:
        return self.placement.contact if self.placement and self.kind == LENT else None


IN_THE_STUDIO = Whereabouts(STUDIO)


def current_placements() -> QuerySet[Placement]:
    """The last placement of each piece that has any."""
    return Placement.objects.filter(followed_by__isnull=True)


def pieces_at(location: Location) -> QuerySet[Piece]:
    """The pieces that a location holds now."""
    held = current_placements().filter(location=location)
    return standing_pieces().exclude(state__in=ENDS).filter(pk__in=held.values("piece"))


def pieces_lent() -> QuerySet[Piece]:
    held = current_placements().filter(is_lent=True)
    return standing_pieces().exclude(state__in=ENDS).filter(pk__in=held.values("piece"))


def pieces_in_the_studio() -> QuerySet[Piece]:
    """The pieces that have not left and were placed nowhere else."""
    away = current_placements().filter(Q(location__isnull=False) | Q(is_lent=True))
    return standing_pieces().exclude(state__in=ENDS).exclude(pk__in=away.values("piece"))


def reservations_of(pieces: Iterable[Piece]) -> dict[int, Reservation]:
    """The reservation that holds, by piece: the last one of the step by which the piece became reserved."""
    reserved = [piece.pk for piece in pieces if piece.state == State.RESERVED]
    if not reserved:
        return {}
    last = PieceStep.objects.filter(piece=OuterRef("step__piece")).order_by("-pk")
    holding = Reservation.objects.filter(
        step__piece__in=reserved, step=Subquery(last.values("pk")[:1])
    ).select_related("step", "contact")
    return {each.step.piece_id: each for each in holding.order_by("pk")}


def where_are(pieces: Iterable[Piece]) -> dict[int, Whereabouts]:
    """Where each piece is, in two queries however many there are."""
    pieces = list(pieces)
    placements = {
        each.piece_id: each
        for each in current_placements()
        .filter(piece__in=[piece.pk for piece in pieces])
        .select_related("location", "contact")
    }
    reservations = reservations_of(pieces)
    return {
        piece.pk: _whereabouts(piece, placements.get(piece.pk), reservations.get(piece.pk))
        for piece in pieces
    }


def where_is(piece: Piece) -> Whereabouts:
    return where_are([piece])[piece.pk]


def _whereabouts(piece: Piece, placement: Placement | None, reservation: Reservation | None) -> Whereabouts:
    if piece.state in ENDS:
        return Whereabouts(LEFT, placement)
    if placement is None:
        return Whereabouts(STUDIO, reservation=reservation)
    location = placement.location
    kind = LENT if placement.is_lent else location.kind if location else STUDIO
    return Whereabouts(kind, placement, reservation)


@dataclass(frozen=True, slots=True)
class Held:
    """What one place holds: how many pieces, and what is asked for those that have a price."""

    kind: str
    location: Location | None
    count: int
    value: int


def held_by_place() -> list[Held]:
    """The studio, each location in use or that holds something, and what is lent."""
    counts: dict[tuple[str, int | None], list[int]] = {}
    away = {each.piece_id: each for each in current_placements()}
    here = standing_pieces().exclude(state__in=ENDS).order_by()
    for pk, price in here.values_list("pk", "price"):
        placement = away.get(pk)
        is_lent = placement is not None and placement.is_lent
        key = (LENT if is_lent else STUDIO, placement.location_id if placement else None)
        held = counts.setdefault(key, [0, 0])
        held[0] += 1
        held[1] += price or 0
    nothing = (0, 0)
    rows = [Held(STUDIO, None, *counts.get((STUDIO, None), nothing))]
    for location in Location.objects.select_related("channel"):
        count, value = counts.get((STUDIO, location.pk), nothing)
        if count or location.is_active:
            rows.append(Held(location.kind, location, count, value))
    if (LENT, None) in counts:
        rows.append(Held(LENT, None, *counts[LENT, None]))
    return rows
