"""What was owned at the end of a day, and how far each part of it had come.

Money is millionths of the currency unit: the cost of materials, as the ledger has it.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date

from django.db.models import Sum

from costing.locations.models import LocationKind, Placement
from costing.pieces.calculations import SELLABLE
from costing.pieces.models import Piece, PiecePour, PieceStep
from costing.reports.calculations import Stage
from inventory.ledger.models import Entry, Lot, LotOrigin, Place
from inventory.ledger.month_ends import balances_on
from inventory.sessions.models import Pour


@dataclass(frozen=True, slots=True)
class Owned:
    """One thing that was owned: a lot, a piece, or the number of a pour that is in no piece; and its material cost.

    `quantity` is what a lot held; `channel` is the sales channel of the gallery that had a piece; `poured` is the
    pour, where it has to be named.
    """

    stage: Stage
    money: int
    lot: Lot | None = None
    quantity: int = 0
    piece: Piece | None = None
    pour: int | None = None
    channel: int | None = None
    poured: Pour | None = None

    @property
    def key(self) -> tuple[int, int]:
        """The numbers of its lot and its piece; 0 for what it is not."""
        return self.lot.pk if self.lot else 0, self.piece.pk if self.piece else 0


def owned_on(day: date) -> list[Owned]:
    """Everything that held cost at the end of a day, in the same few queries however much it is."""
    return [*_lots_on(day), *_work_on(day)]


def with_pours(owned: Iterable[Owned]) -> list[Owned]:
    """The same with the pours among them, in one query: those of one page, for there may be thousands."""
    owned = list(owned)
    numbers = {each.pour for each in owned if each.pour}
    pours = Pour._base_manager.select_related("session").in_bulk(numbers) if numbers else {}
    return [replace(each, poured=pours[each.pour]) if each.pour else each for each in owned]


def by_stage(owned: Iterable[Owned]) -> dict[Stage, int]:
    """The sums, stage by stage, those without anything too."""
    sums = dict.fromkeys(Stage, 0)
    for each in owned:
        sums[each.stage] += each.money
    return sums


def _lots_on(day: date) -> list[Owned]:
    held = {lot: (quantity, money) for lot, (quantity, money) in balances_on(day).items() if money}
    lots = Lot.objects.select_related("material", "decanted_from__decanted_from").in_bulk(held)
    return [
        Owned(Stage.MIXED if _is_mixed(lots[lot]) else Stage.RAW, money, lot=lots[lot], quantity=quantity)
        for lot, (quantity, money) in held.items()
    ]


def _is_mixed(lot: Lot) -> bool:
    """Whether it was mixed here, or poured over from something that was."""
    while lot.decanted_from is not None:
        lot = lot.decanted_from
    return lot.origin == LotOrigin.MIX


def _work_on(day: date) -> list[Owned]:
    rows = Entry.objects.order_by().filter(place=Place.WORK, effective_on__lte=day).values_list("pour")
    held = {pour: money for pour, money in rows.annotate(sum=Sum("money")) if money}
    piece_of = dict(PiecePour.objects.filter(pour__in=held).values_list("pour", "piece"))
    pieces = Piece.objects.filter(made_on__lte=day).in_bulk(set(piece_of.values()))
    stood = _stood(pieces, day)
    money_of: dict[int, int] = defaultdict(int)
    loose = []
    for pour, money in held.items():
        piece = piece_of.get(pour)
        if piece is not None and piece in pieces:
            money_of[piece] += money
        else:
            loose.append(Owned(Stage.WORK, money, pour=pour))
    made = [
        Owned(stood[pk][0], money, piece=pieces[pk], channel=stood[pk][1]) for pk, money in money_of.items()
    ]
    return [*made, *loose]


def _stood(pieces: Mapping[int, Piece], day: date) -> dict[int, tuple[Stage, int | None]]:
    """How far pieces had come by then, and the sales channel of the gallery that had them."""
    steps = PieceStep.objects.filter(piece__in=pieces, on__lte=day).order_by("pk")
    states = dict(steps.values_list("piece", "to_state"))
    placements = Placement.objects.filter(piece__in=pieces, on__lte=day).order_by("pk")
    rows = placements.values_list("piece", "location__kind", "location__channel")
    places = {piece: (kind, channel) for piece, kind, channel in rows}
    stood: dict[int, tuple[Stage, int | None]] = {}
    for pk in pieces:
        kind, channel = places.get(pk, (None, None))
        if kind == LocationKind.GALLERY:
            stood[pk] = Stage.CONSIGNED, channel
        else:
            stood[pk] = (Stage.FINISHED if states.get(pk) in SELLABLE else Stage.WORK), None
    return stood
