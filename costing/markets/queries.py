"""What market days sold, brought and cost; what was packed for them and what became of it."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date

from django.db.models import Q, QuerySet

from costing.commissions.models import CommissionPayment
from costing.commissions.queries import paid_ahead
from costing.markets.calculations import KindSold, MarketResult, break_even_mix, wage_of
from costing.markets.models import CashCount, MarketDay, PackedPiece
from costing.pieces.calculations import SELLABLE, State
from costing.pieces.models import Piece
from costing.pieces.queries import standing_pieces, with_parts
from costing.selling.models import Sale
from costing.selling.queries import SoldPiece, sale_figures, with_lines
from studio.preferences.models import Studio
from studio.preferences.rates import DatedRates
from studio.translation import _
from studio.values.money import round_to_minor


@dataclass(frozen=True, slots=True)
class MarketRow:
    """A market day with its sales and what it came to. `has_wage`: an hourly rate held on its day."""

    market: MarketDay
    lines: list[SoldPiece]
    result: MarketResult
    has_wage: bool
    is_ahead: bool = False  # not begun: nothing can be said of what it came to
    ahead_in_cash: int = 0  # paid for commissions, less what sales of the day set off

    @property
    def cash_taken(self) -> int:
        """The cash that came into the till that day. What was refunded later is not taken off."""
        return self.ahead_in_cash + sum(
            line.line.paid - _refunded_on(line, self.market.held_on)
            for line in self.lines
            if line.sale.channel_id == self.market.cash_channel_id
        )

    @property
    def has_takings(self) -> bool:
        return bool(self.lines or self.result.takings)

    @property
    def kept(self) -> list[SoldPiece]:
        """What was sold and not returned."""
        return [line for line in self.lines if line.line.returned_on is None]


@dataclass(frozen=True, slots=True)
class KindRow:
    """Pieces of one kind, and how many of them break even: alone, and in the proportion in which they sold."""

    kind: KindSold
    alone: int | None
    together: int | None


@dataclass(frozen=True, slots=True)
class PackedRow:
    """A packed piece and what became of it at the market."""

    packed: PackedPiece
    is_sold: bool

    @property
    def piece(self) -> Piece:
        return self.packed.piece

    @property
    def is_missing(self) -> bool:
        return self.packed.is_missing and not self.is_sold

    @property
    def is_written_off(self) -> bool:
        return self.piece.state == State.WRITTEN_OFF

    @property
    def is_left(self) -> bool:
        return not (self.is_sold or self.packed.is_missing)


def market_days() -> QuerySet[MarketDay]:
    """Market days with their channels, the latest first."""
    return MarketDay.objects.select_related("cash_channel", "card_channel")


def results_of(markets: Iterable[MarketDay], *, today: date | None = None) -> list[MarketRow]:
    """What each market day came to, in the same few queries however many there are.

    With `today`, one of that day or a later one is ahead while it has sold nothing.
    """
    markets = list(markets)
    currency, rates = Studio.current().currency, DatedRates.read()
    by_market: dict[int, list[SoldPiece]] = defaultdict(list)
    owner = {of: market.pk for of, market in by_day_and_channel(markets).items()}
    for figures in sale_figures(_sales_of(markets), currency):
        market = owner.get((figures.sale.sold_on, figures.sale.channel_id))
        if market is not None:
            by_market[market].extend(figures.lines)
    ahead: dict[int, list[CommissionPayment]] = defaultdict(list)
    for payment in paid_ahead([day for day, _channel in owner], [channel for _day, channel in owner]):
        market_pk = owner.get((payment.on, payment.channel_id or 0))
        if market_pk is not None:
            ahead[market_pk].append(payment)
    rows = [_row(market, by_market[market.pk], ahead[market.pk], rates, currency) for market in markets]
    if today is None:
        return rows
    return [
        replace(row, is_ahead=True) if row.market.held_on >= today and not row.has_takings else row
        for row in rows
    ]


def by_day_and_channel(markets: Iterable[MarketDay]) -> dict[tuple[date, int], MarketDay]:
    """The market day that a sale belongs to, by its day and its channel's primary key."""
    return {(market.held_on, channel): market for market in markets for channel in market.channels}


def result_of(market: MarketDay) -> MarketRow:
    return results_of([market])[0]


def _sales_of(markets: Sequence[MarketDay]) -> QuerySet[Sale]:
    days = {market.held_on for market in markets}
    channels = {channel for market in markets for channel in market.channels}
    sales = Sale.objects.filter(sold_on__in=days, channel__in=channels)
    return with_lines(sales).order_by("pk")


def _row(
    market: MarketDay,
    lines: list[SoldPiece],
    payments: list[CommissionPayment],
    rates: DatedRates,
    currency: str,
) -> MarketRow:
    wage = rates.on(market.held_on).wage
    by_cash = sum(_taken(line) for line in lines if line.sale.channel_id == market.cash_channel_id)
    ahead = sum(each.amount for each in payments)
    ahead_in_cash = sum(each.amount for each in payments if each.channel_id == market.cash_channel_id)
    result = MarketResult(
        cash=by_cash + ahead_in_cash,
        card=sum(_taken(line) for line in lines) - by_cash + ahead - ahead_in_cash,
        tax=sum(line.tax for line in lines),
        fees=sum(line.fees + line.line.postage_paid for line in lines),
        cost=sum(line.cost for line in lines),
        pitch=market.pitch_fee,
        travel=round_to_minor(market.travel, currency),
        wages=round_to_minor(wage_of(market.minutes, wage.value if wage else 0), currency),
        minutes=market.minutes,
        sold=sum(line.line.returned_on is None for line in lines),
        ahead=ahead,
    )
    return MarketRow(market, lines, result, wage is not None, ahead_in_cash=ahead_in_cash)


def _taken(line: SoldPiece) -> int:
    """What a buyer paid and did not get back."""
    return line.line.paid - line.refunded.amount


def _refunded_on(line: SoldPiece, day: date) -> int:
    return sum(refund.amount for refund in line.line.refunds.all() if refund.on == day)


def kinds_of(row: MarketRow) -> list[KindRow]:
    """What the market sold by surface, and how many of each kind it would have taken to break even."""
    by_kind: dict[str, list[SoldPiece]] = defaultdict(list)
    pieces = with_parts(Piece.objects.all()).in_bulk([line.line.piece_id for line in row.kept])
    for line in row.kept:
        by_kind[_kind_of(pieces[line.line.piece_id])].append(line)
    kinds = [
        KindSold(name, len(lines), sum(_taken(line) for line in lines), sum(line.profit for line in lines))
        for name, lines in sorted(by_kind.items())
    ]
    fixed = row.result.fixed
    mix = break_even_mix(fixed, kinds)
    together: Sequence[int | None] = mix if mix is not None else [None] * len(kinds)
    return [KindRow(kind, kind.alone(fixed), count) for kind, count in zip(kinds, together, strict=True)]


def _kind_of(piece: Piece) -> str:
    """What it was poured on; of a set, on how many."""
    surfaces = [pour.surface.name for pour in piece.pours]
    name = ", ".join(dict.fromkeys(surfaces))
    return _("{surface}, set of {count}", surface=name, count=len(surfaces)) if len(surfaces) > 1 else name


def packed_rows(market: MarketDay, lines: Iterable[SoldPiece] = ()) -> list[PackedRow]:
    """Everything packed for a market day, by box, and whether its sales hold it."""
    sold = {line.line.piece_id for line in lines if line.line.returned_on is None}
    packed = list(PackedPiece.objects.filter(market_day=market).order_by("box", "piece__title", "pk"))
    pieces = with_parts(Piece.objects.all()).in_bulk([each.piece_id for each in packed])
    for each in packed:
        each.piece = pieces[each.piece_id]
    return [PackedRow(each, each.piece_id in sold) for each in packed]


def sellable_pieces() -> QuerySet[Piece]:
    """What may be sold now, by title."""
    return with_parts(standing_pieces().filter(state__in=SELLABLE)).order_by("title", "pk")


def last_count(market: MarketDay) -> CashCount | None:
    """The count of cash in force: the latest."""
    return market.cash_counts.select_related("recorded_by").first()


def market_for_stall(today: date) -> MarketDay | None:
    """The market day that the selling screen is for: today's, else the next one, else the last."""
    ahead = market_days().filter(held_on__gte=today).order_by("held_on", "pk").first()
    return ahead or market_days().filter(Q(held_on__lt=today)).first()
