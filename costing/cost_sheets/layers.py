"""The pours of pieces, layer by layer: its own on top, the failed ones it was poured over beneath."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date

from costing.pieces.models import Piece, PiecePour
from inventory.ledger.models import Entry, Place, PostingKind
from inventory.sessions.actions.work import with_poured_over
from inventory.sessions.models import Pour


@dataclass(slots=True)
class Layers:
    """One piece's pours. `left_by` names the standing postings that took it out other than by a sale.

    A pour beneath that was written off by itself is a loss of its own and not here.
    """

    own: list[Pour] = field(default_factory=list)
    beneath: list[Pour] = field(default_factory=list)
    left_by: set[int] = field(default_factory=set)

    @property
    def all(self) -> list[Pour]:
        return self.own + self.beneath

    @property
    def area(self) -> int:
        """Surface area in thousandths of a cm²: each surface once."""
        return sum(pour.area for pour in self.own)


def layers_of(pieces: Iterable[Piece], *, on: date | None = None) -> dict[int, Layers]:
    """The layers of these pieces, by piece. The number of queries grows with the layers, not with the pieces."""
    found = {piece.pk: Layers() for piece in pieces}
    parts = list(
        PiecePour.objects.filter(piece__in=found).order_by("pour_id").values_list("piece_id", "pour_id")
    )
    tops = list(Pour.objects.filter(pk__in=[pour for _, pour in parts]))
    by_pk = {pour.pk: pour for pour in with_poured_over(tops)}
    for piece, pk in parts:
        layers, pour = found[piece], by_pk[pk]
        layers.own.append(pour)
        while pour.over_id:
            pour = by_pk[pour.over_id]
            layers.beneath.append(pour)
    written_off = _written_off(by_pk, on)
    for layers in found.values():
        for pour in layers.own:
            layers.left_by |= written_off.get(pour.pk, set())
        layers.beneath = [
            pour for pour in layers.beneath if written_off.get(pour.pk, set()) <= layers.left_by
        ]
    return found


def _written_off(pours: Iterable[int], on: date | None) -> dict[int, set[int]]:
    """The standing postings that wrote each pour off."""
    rows = Entry.objects.filter(
        pour__in=list(pours), place=Place.WORK, posting__kind=PostingKind.PIECE_WRITE_OFF
    )
    if on is None:
        rows = rows.filter(posting__reversed_by__isnull=True)
    else:
        rows = rows.filter(posting__effective_on__lte=on).exclude(posting__reversed_by__effective_on__lte=on)
    found: dict[int, set[int]] = {}
    for pour, posting in rows.values_list("pour_id", "posting_id"):
        if pour is not None:
            found.setdefault(pour, set()).add(posting)
    return found
