"""What the price of an unsold piece must cover: what it cost so far, and the packing that is to be expected.

Packing to come is an estimate, for prices alone. It is in no ledger and on no cost sheet, and falls away once the piece
is packed: what that took is then part of its cost. Money is millionths of the currency unit.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from django.db.models import Max, Sum

from costing.cost_sheets.lines import CostSummary
from costing.cost_sheets.queries import cost_summaries, labour_times
from costing.cost_sheets.rates import WorkRates
from costing.pieces.calculations import ENDS
from costing.pieces.models import Labour, Piece, PiecePour
from costing.pricing.calculations import usual_cost
from inventory.ledger.models import Entry, EntryRole, Place
from inventory.ledger.movements import incoming
from studio.preferences.models import Studio
from studio.translation import ngettext
from studio.values.money import minor_unit

LATEST = 5  # so many pieces say what packing usually costs: own choice
PACKING = "Packing"  # as minutes of packing are recorded

Kind = tuple[object, ...]


class Alike(StrEnum):
    """What packed pieces have in common with one that is not packed yet."""

    SIZE = "size"
    TECHNIQUE = "technique"


@dataclass(frozen=True, slots=True)
class PackingToCome:
    """What packing is likely to cost: the median of the latest packed `pieces` that are `alike`.

    `alike` is None, and the money 0, where no such piece has been packed yet.
    """

    money: int = 0
    pieces: int = 0
    alike: Alike | None = None

    @property
    def reason(self) -> str:
        """Where the figure comes from: "as the last 5 pieces of this size"; empty where there is none."""
        if self.alike is Alike.SIZE:
            return ngettext(
                "as the last piece of this size",
                "as the last {count} pieces of this size",
                self.pieces,
                count=self.pieces,
            )
        if self.alike is Alike.TECHNIQUE:
            return ngettext(
                "as the last piece of this technique",
                "as the last {count} pieces of this technique",
                self.pieces,
                count=self.pieces,
            )
        return ""


@dataclass(frozen=True, slots=True)
class ToCover:
    """What a piece cost, and the packing to come; None for one that is packed or has left."""

    cost: CostSummary
    packing: PackingToCome | None = None

    @property
    def packing_money(self) -> int:
        return self.packing.money if self.packing else 0

    @property
    def whole(self) -> int:
        """What a price must leave so that nothing is lost."""
        return self.cost.whole + self.packing_money


def costs_to_cover(pieces: Sequence[Piece]) -> dict[int, ToCover]:
    """What the price of each of these pieces must cover, by piece, in the same few queries however many there are."""
    costs, packing = cost_summaries(pieces), packing_to_come(pieces)
    return {piece.pk: ToCover(costs[piece.pk], packing.get(piece.pk)) for piece in pieces}


def packing_to_come(pieces: Iterable[Piece]) -> dict[int, PackingToCome]:
    """What packing those of these pieces will cost that are neither packed nor gone, by piece.

    It is as the latest packed pieces of the same size had it, or else of the same technique: their materials and the
    minutes of packing, the median of up to LATEST, rounded to the minor unit.
    """
    packed = _packed()
    waiting = [piece.pk for piece in pieces if piece.state not in ENDS and piece.pk not in packed]
    if not waiting:
        return {}
    kinds = _kinds([*waiting, *packed])
    latest = _latest_by_kind(packed, kinds)
    wanted = {
        pk: next(((alike, latest[kind]) for alike, kind in kinds[pk].items() if kind in latest), None)
        for pk in waiting
    }
    costs = _costs({each for found in wanted.values() if found for each in found[1]}, packed)
    step = minor_unit(Studio.current().currency)
    return {
        pk: PackingToCome(usual_cost([costs[each] for each in found[1]], step), len(found[1]), found[0])
        if found
        else PackingToCome()
        for pk, found in wanted.items()
    }


@dataclass(frozen=True, slots=True)
class _Packed:
    """When a piece was packed last, and what its packing materials cost."""

    on: date
    materials: int


def _packed() -> dict[int, _Packed]:
    """Every piece on which packing was charged or minutes of packing were recorded. Two queries."""
    charged = incoming(
        Entry.objects.in_force().filter(
            role=EntryRole.PACKING, place=Place.WORK, pour__piece_part__isnull=False
        )
    )
    packed = {
        piece: _Packed(on, money)
        for piece, on, money in charged.order_by()
        .values_list("pour__piece_part__piece")
        .annotate(Max("effective_on"), Sum("money"))
    }
    minutes = Labour.objects.filter(work=PACKING).order_by().values_list("piece").annotate(Max("on"))
    for piece, on in minutes:
        materials = packed[piece] if piece in packed else _Packed(on, 0)
        packed[piece] = _Packed(max(on, materials.on), materials.materials)
    return packed


def _kinds(pieces: Iterable[int]) -> dict[int, dict[Alike, Kind]]:
    """What each piece is alike in, the closest first: the sizes of its surfaces, its techniques."""
    sizes: dict[int, list[tuple[object, ...]]] = {}
    techniques: dict[int, set[int]] = {}
    parts = PiecePour.objects.filter(piece__in=list(pieces)).values_list(
        "piece", "pour__surface__height", "pour__surface__width", "pour__surface__is_round", "pour__area",
        "pour__technique",
    )  # fmt: skip
    for piece, height, width, is_round, area, technique in parts:
        size = (height, width, is_round) if height and width else (0, 0, False, area)
        sizes.setdefault(piece, []).append(size)
        techniques.setdefault(piece, set()).add(technique)
    return {
        piece: {
            Alike.SIZE: (Alike.SIZE, *sorted(its_sizes)),
            Alike.TECHNIQUE: (Alike.TECHNIQUE, *sorted(techniques[piece])),
        }
        for piece, its_sizes in sizes.items()
    }


def _latest_by_kind(
    packed: Mapping[int, _Packed], kinds: Mapping[int, Mapping[Alike, Kind]]
) -> dict[Kind, list[int]]:
    """The pieces of each kind that were packed last, at most LATEST."""
    latest: dict[Kind, list[int]] = {}
    for piece in sorted(packed, key=lambda piece: (packed[piece].on, piece), reverse=True):
        for kind in kinds[piece].values():
            alike = latest.setdefault(kind, [])
            if len(alike) < LATEST:
                alike.append(piece)
    return latest


def _costs(pieces: set[int], packed: Mapping[int, _Packed]) -> dict[int, int]:
    """What packing each of these cost: its materials, and its minutes at the rates of their day."""
    times = labour_times(pieces, WorkRates.read(pieces), work=PACKING)
    return {
        piece: packed[piece].materials + sum(time.wage + time.overhead for time in times.get(piece, ()))
        for piece in pieces
    }
