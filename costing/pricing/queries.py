"""What a piece may be sold for through each sales channel, and its profit there. Money is millionths, tax included.

Fees and tax are rounded to the currency's minor unit line by line, as a till rounds them: a half upwards.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Sum

from costing.errors import CostingError
from costing.pieces.calculations import SELLABLE
from costing.pieces.models import Piece
from costing.pieces.queries import standing_pieces
from costing.pricing import calculations
from costing.pricing.calculations import (
    WHOLE_UNIT,
    Channel,
    Proceeds,
    SizedPrice,
    as_taken,
    out_of_order,
    price_from_markup,
)
from costing.pricing.failures import failure_rate
from costing.pricing.methods import FailureRate
from costing.pricing.models import PriceRules, SalesChannel
from costing.pricing.terms import TermsOn, terms_on
from costing.pricing.to_cover import PackingToCome, costs_to_cover
from inventory.sessions.models import Technique
from studio.preferences.models import Studio
from studio.preferences.rates import DatedRates
from studio.translation import noop
from studio.values.dated import Held
from studio.values.money import minor_unit

NOT_ADVICE = noop("General information, not tax or legal advice.")
FIVES = 5 * WHOLE_UNIT


@dataclass(frozen=True, slots=True)
class ChannelPrices:
    """One sales channel's prices for one piece, and the terms that they rest on.

    `floor` covers the piece's cost with the packing to come and no more, the others the markup too. `proceeds` and
    `profit` are those of the asking price; None without one.
    """

    terms: TermsOn
    charges: Channel
    floor: int
    wanted: int
    wanted_whole: int
    wanted_fives: int
    proceeds: Proceeds | None
    profit: int | None

    @property
    def channel(self) -> SalesChannel:
        return self.terms.channel


@dataclass(frozen=True, slots=True)
class SizePrice:
    """A piece among similar ones: its area in thousandths of a cm², and its price.

    `is_this` marks the one whose price is looked at.
    """

    piece_id: int
    title: str
    area: int
    price: int
    is_this: bool = False


@dataclass(frozen=True, slots=True)
class PriceAdvice:
    """What to charge for one piece, with the tax and the terms of one day. NOT_ADVICE stands beside it.

    `cost` is that of its cost sheet, `to_cover` the same with `packing` to come. `failures_money` is the allowance at
    the rate `failures`, in prices with markup alone, which must leave `wanted`. `problems` are the channels that no
    price can be calculated for, each with the reason; `warnings` are pairs of a smaller piece and a larger one that is
    cheaper.
    """

    cost: int
    packing: PackingToCome | None
    to_cover: int
    failures: FailureRate | None
    failures_money: int
    wanted: int
    tax: Held | None
    channels: tuple[ChannelPrices, ...]
    problems: tuple[tuple[SalesChannel, str], ...]
    siblings: tuple[SizePrice, ...]
    warnings: tuple[tuple[SizePrice, SizePrice], ...]


def proceeds_of(price: int, charges: Channel, currency: str) -> Proceeds:
    """Where a price goes on a channel, each line in whole minor units."""
    return as_taken(price, charges, minor_unit=minor_unit(currency))


def least_price(wanted: int, charges: Channel, currency: str, *, step: int | None = None) -> int:
    """The lowest price in whole steps (the minor unit unless given) that leaves what is wanted after rounded fees."""
    coin = minor_unit(currency)
    return calculations.least_price(wanted, charges, minor_unit=coin, step=step or coin)


def price_advice(piece: Piece, *, on: date, markup: int | None = None) -> PriceAdvice:
    """Suggest prices for a piece on every active channel, by the tax and terms of a day.

    `markup` on its cost is in millionths; the studio's own without one.
    """
    rules = PriceRules.current()
    currency, tax = Studio.current().currency, DatedRates.read().on(on).tax
    failures = failure_rate(rules, on)
    covered = costs_to_cover([piece])[piece.pk]
    cost = covered.whole
    allowance = failures.allowance(cost, minor_unit=minor_unit(currency)) if failures else 0
    wanted = price_from_markup(cost + allowance, rules.markup if markup is None else markup)
    prices: list[ChannelPrices] = []
    problems: list[tuple[SalesChannel, str]] = []
    for channel in SalesChannel.objects.filter(is_active=True).prefetch_related("terms"):
        terms = terms_on(channel, on)
        try:
            charges = terms.charges(tax.value if tax else 0)
            prices.append(_channel_prices(piece.price, cost, wanted, terms, charges, currency))
        except CostingError as problem:
            problems.append((channel, str(problem)))
    siblings = sibling_prices(piece)
    own_first = sorted(siblings, key=lambda sibling: not sibling.is_this)
    warnings = [pair for pair in size_warnings(own_first) if any(item.is_this for item in pair)]
    return PriceAdvice(
        cost=covered.cost.whole,
        packing=covered.packing,
        to_cover=cost,
        failures=failures,
        failures_money=allowance,
        wanted=wanted,
        tax=tax,
        channels=tuple(prices),
        problems=tuple(problems),
        siblings=tuple(siblings),
        warnings=tuple(warnings),
    )


def sibling_prices(piece: Piece) -> list[SizePrice]:
    """Priced pieces of the same techniques that are finished or for sale, this one among them, smallest first."""
    techniques = Technique.objects.filter(pours__piece_part__piece=piece)
    alike = standing_pieces().filter(price__isnull=False, parts__pour__technique__in=techniques)
    rows = (
        Piece.objects.filter(pk__in=alike.values("pk"), state__in=SELLABLE)
        .annotate(area=Sum("parts__pour__area"))
        .order_by("area", "price", "pk")
    )
    return [SizePrice(row.pk, row.title, row.area, row.price or 0, row.pk == piece.pk) for row in rows]


def size_warnings(prices: Sequence[SizePrice]) -> list[tuple[SizePrice, SizePrice]]:
    """Each piece that is cheaper than a smaller one, after the dearest of those; of twins the first listed."""
    named = {SizedPrice(item.area, item.price): item for item in reversed(prices)}
    return [(named[smaller], named[larger]) for smaller, larger in out_of_order(list(named))]


def _channel_prices(
    price: int | None, cost: int, wanted: int, terms: TermsOn, charges: Channel, currency: str
) -> ChannelPrices:
    proceeds = proceeds_of(price, charges, currency) if price is not None else None
    return ChannelPrices(
        terms=terms,
        charges=charges,
        floor=least_price(cost, charges, currency),
        wanted=least_price(wanted, charges, currency),
        wanted_whole=least_price(wanted, charges, currency, step=WHOLE_UNIT),
        wanted_fives=least_price(wanted, charges, currency, step=FIVES),
        proceeds=proceeds,
        profit=proceeds.net - cost if proceeds is not None else None,
    )
