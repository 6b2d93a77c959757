"""Pieces with what they cost, what they must bring and what they might: many at once, in the same few queries.

Money is millionths, tax included where it is a price. NOT_ADVICE of queries.py stands beside it.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from costing.cost_sheets.lines import CostSummary
from costing.errors import CostingError
from costing.pieces.models import Piece
from costing.pricing.calculations import Channel, Proceeds, SizedPrice, as_taken, out_of_order
from costing.pricing.failures import failure_rate
from costing.pricing.methods import (
    Ending,
    Method,
    Rules,
    Subject,
    Suggestion,
    floor_of,
    price_of,
    suggestions,
)
from costing.pricing.models import METHODS, PriceRules, SalesChannel
from costing.pricing.terms import terms_on
from costing.pricing.to_cover import ToCover, costs_to_cover
from studio.preferences.models import Studio
from studio.preferences.rates import DatedRates
from studio.values.money import minor_unit


@dataclass(frozen=True, slots=True)
class Way:
    """One way to a price: what should be left, or is asked; where the price goes on the channel; its profit."""

    method: Method
    left: int | None
    asked: int | None
    proceeds: Proceeds
    profit: int

    @property
    def price(self) -> int:
        return self.proceeds.price

    @property
    def label(self) -> str:
        return str(METHODS[self.method])


@dataclass(frozen=True, slots=True)
class PricedPiece:
    """A piece on one channel. `below` names every channel on which its price does not cover what it must."""

    piece: Piece
    to_cover: ToCover
    floor: int
    ways: tuple[Way, ...]
    profit: int | None
    failures: int = 0  # the allowance for failed pours, in the ways and not in the floor
    below: tuple[str, ...] = ()
    is_below_everywhere: bool = False
    smaller: Piece | None = None  # one that is smaller, and dearer

    @property
    def cost(self) -> CostSummary:
        """What its cost sheet says."""
        return self.to_cover.cost

    @property
    def usual(self) -> Way:
        """The way that was asked for."""
        return self.ways[0]


@dataclass(frozen=True, slots=True)
class Market:
    """The channels of a day that a price can be worked out for, each with what it takes; the rest with the reason."""

    charges: Mapping[SalesChannel, Channel]
    problems: tuple[tuple[SalesChannel, str], ...]
    coin: int

    @classmethod
    def on(cls, day: date) -> "Market":
        tax = DatedRates.read().on(day).tax_rate
        charges: dict[SalesChannel, Channel] = {}
        problems = []
        for channel in SalesChannel.objects.filter(is_active=True).prefetch_related("terms"):
            try:
                charges[channel] = terms_on(channel, day).charges(tax)
            except CostingError as problem:
                problems.append((channel, str(problem)))
        return cls(charges, tuple(problems), minor_unit(Studio.current().currency))

    def profit(self, price: int, cost: int, channel: SalesChannel) -> int:
        return as_taken(price, self.charges[channel], minor_unit=self.coin).net - cost

    def below_cost(self, price: int, cost: int, *, at: Collection[int] | None = None) -> tuple[str, ...]:
        """The channels on which a price does not cover a cost; with `at`, of the galleries only these."""
        asked = [each for each in self.charges if at is None or not each.is_gallery or each.pk in at]
        return tuple(channel.name for channel in asked if self.profit(price, cost, channel) < 0)


def subject_of(piece: Piece, to_cover: ToCover, failures: int) -> Subject:
    """What the ways to a price look at. Of several pours the areas and the sides add up."""
    sides = sum((pour.surface.height or 0) + (pour.surface.width or 0) for pour in piece.pours)
    cost, packing = to_cover.cost, to_cover.packing_money
    return Subject(cost.whole, cost.materials, cost.seconds, cost.area, sides, packing, failures)


def price_sheet(
    pieces: Sequence[Piece], channel: SalesChannel, market: Market, *, rules: Rules, method: Method
) -> list[PricedPiece]:
    """Every piece with its ways to a price on a channel, the wanted way first. The pieces have their parts read."""
    covered = costs_to_cover(pieces)
    dearer = dearer_smaller_ones(pieces, {pk: each.cost for pk, each in covered.items()})
    rows = []
    for piece in pieces:
        to_cover = covered[piece.pk]
        least = to_cover.whole
        failures = rules.allowance(least, minor_unit=market.coin)
        ways = [
            _way(each, least, channel, market, rules.ending)
            for each in suggestions(subject_of(piece, to_cover, failures), rules)
        ]
        below = () if piece.price is None else market.below_cost(piece.price, least)
        rows.append(
            PricedPiece(
                piece=piece,
                to_cover=to_cover,
                floor=floor_of(least, market.charges[channel], minor_unit=market.coin),
                ways=tuple(sorted(ways, key=lambda way: way.method != method)),
                profit=None if piece.price is None else market.profit(piece.price, least, channel),
                failures=failures,
                below=below,
                is_below_everywhere=len(below) == len(market.charges),
                smaller=dearer.get(piece.pk),
            )
        )
    return rows


def dearer_smaller_ones(pieces: Iterable[Piece], costs: Mapping[int, CostSummary]) -> dict[int, Piece]:
    """By piece the smaller one of its series, or else of its technique, that costs more than it does."""
    alike: dict[str, list[Piece]] = {}
    for piece in pieces:
        if piece.price is not None:
            alike.setdefault(piece.series or piece.technique, []).append(piece)
    found: dict[int, Piece] = {}
    for group in alike.values():
        named = {SizedPrice(costs[piece.pk].area, piece.price or 0): piece for piece in group}
        for smaller, larger in out_of_order(list(named)):
            for piece in group:
                if SizedPrice(costs[piece.pk].area, piece.price or 0) == larger:
                    found[piece.pk] = named[smaller]
    return found


def priced_below_cost(
    pieces: Sequence[Piece], on: date, *, galleries: Mapping[int, int]
) -> list[tuple[Piece, tuple[str, ...]]]:
    """The pieces whose price does not cover their cost on some channel, with its name.

    `galleries` says which gallery's channel has a piece: what a gallery keeps counts for the pieces that it has.
    """
    priced = [piece for piece in pieces if piece.price is not None]
    market, costs = Market.on(on), costs_to_cover(priced)
    rows = [
        (piece, market.below_cost(piece.price or 0, costs[piece.pk].whole, at={galleries.get(piece.pk, 0)}))
        for piece in priced
    ]
    return [(piece, below) for piece, below in rows if below]


def usual_method(on: date) -> tuple[Rules, Method]:
    """The studio's figures for prices of a day, and its usual way."""
    row = PriceRules.current()
    return replace(row.rules, failures=failure_rate(row, on)), Method(row.method)


def _way(suggestion: Suggestion, cost: int, channel: SalesChannel, market: Market, ending: Ending) -> Way:
    price = price_of(suggestion, cost, market.charges[channel], minor_unit=market.coin, ending=ending)
    taken = as_taken(price, market.charges[channel], minor_unit=market.coin)
    return Way(suggestion.method, suggestion.left, suggestion.asked, taken, taken.net - cost)
