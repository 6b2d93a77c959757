"""What pieces earned, by whatever they have in common: the sold lines of sales, sorted into groups.

Takings (what buyers paid) and net proceeds (what is left after tax, fees, postage and refunds) are kept apart. Money is
millionths of the currency unit. A piece of several techniques or media counts under all of their names together, so
that the groups add up to the whole. Monthly fees of sales channels belong to their channel and month; in any other
grouping they are a group of their own.
"""

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from django.db.models import Max, Min, QuerySet, Sum
from django.utils.dateformat import format as date_format

from costing.cost_sheets.queries import cost_summaries
from costing.earnings.calculations import Hourly, StockTurn, per_hour, slow_after
from costing.markets.models import MarketDay
from costing.markets.queries import by_day_and_channel
from costing.overhead.queries import work_between
from costing.pieces.calculations import SELLABLE, State
from costing.pieces.models import Piece, PieceStep
from costing.pieces.queries import standing_pieces, with_parts
from costing.pricing.models import SalesChannel
from costing.pricing.terms import MonthlyFee, fees_by_month
from costing.selling.models import Sale, SaleLine
from costing.selling.queries import SalesTotal, SoldPiece, sale_figures, total_of, with_lines
from inventory.ledger.models import Entry, Place
from inventory.sessions.queries.media import media_of
from inventory.sessions.queries.paint_per_area import size_under
from studio.preferences.formatting import Formatter
from studio.translation import _
from studio.values.money import round_to_minor

BY = ("piece", "series", "size", "technique", "medium", "channel", "market", "month")
FEES = "monthly-fees"


@dataclass(frozen=True, slots=True)
class Group:
    """Sold pieces that have something in common. `key` names it in an address, `label` on a page."""

    key: str
    label: str
    total: SalesTotal
    piece: Piece | None = None

    @property
    def hourly(self) -> Hourly:
        return hourly(self.total)


@dataclass(frozen=True, slots=True)
class Earned:
    """Sold pieces, the monthly fees of their time, and what sorts them into groups."""

    lines: tuple[SoldPiece, ...]
    media: Mapping[int, str]
    formatter: Formatter
    markets: Mapping[tuple[date, int], MarketDay]
    fees: tuple[MonthlyFee, ...] = ()

    @property
    def total(self) -> SalesTotal:
        return _total(self.lines, self.fees)

    def within(self, by: str, key: str) -> "Earned":
        """Only the pieces of one group."""
        lines = tuple(line for line in self.lines if self._key(line, by)[0] == key)
        fees = tuple(fee for fee in self.fees if _fee_key(fee, by)[0] == key)
        return replace(self, lines=lines, fees=fees)

    def groups(self, by: str) -> list[Group]:
        """The group that earned most first; months in their order."""
        members: dict[str, list[SoldPiece]] = defaultdict(list)
        fees: dict[str, list[MonthlyFee]] = defaultdict(list)
        labels: dict[str, str] = {}
        for fee in self.fees:
            key, labels[key] = _fee_key(fee, by)
            fees[key].append(fee)
        for line in self.lines:
            key, labels[key] = self._key(line, by)
            members[key].append(line)
        found = [
            Group(
                key,
                label,
                _total(members[key], fees[key]),
                members[key][0].piece if by == "piece" and members[key] else None,
            )
            for key, label in labels.items()
        ]
        if by == "month":
            return sorted(found, key=lambda group: group.key)
        return sorted(found, key=lambda group: (-group.total.profit, group.label))

    def label_of(self, by: str, key: str) -> str:
        """What a group is called; the key itself where nothing of it was sold."""
        return next((group.label for group in self.groups(by) if group.key == key), key)

    def _key(self, line: SoldPiece, by: str) -> tuple[str, str]:
        return KEYS[by](self, line)


def _piece(earned: Earned, line: SoldPiece) -> tuple[str, str]:
    return str(line.line.piece_id), line.piece.title


def _series(earned: Earned, line: SoldPiece) -> tuple[str, str]:
    return line.piece.series, line.piece.series or _("No series")


def _size(earned: Earned, line: SoldPiece) -> tuple[str, str]:
    pours = line.piece.pours
    label = ", ".join(dict.fromkeys(earned.formatter.size(size_under(pour)) for pour in pours))
    if len(pours) > 1:
        label = f"{len(pours)} × {label}"
    return label, label


def _technique(earned: Earned, line: SoldPiece) -> tuple[str, str]:
    return line.piece.technique, line.piece.technique


def _medium(earned: Earned, line: SoldPiece) -> tuple[str, str]:
    names = {earned.media[pour.pk] for pour in line.piece.pours if earned.media.get(pour.pk)}
    label = ", ".join(sorted(names))
    return label, label or _("No medium")


def _channel(earned: Earned, line: SoldPiece) -> tuple[str, str]:
    return str(line.sale.channel_id), line.sale.channel.name


def _market(earned: Earned, line: SoldPiece) -> tuple[str, str]:
    market = earned.markets.get((line.sale.sold_on, line.sale.channel_id))
    if market is None:
        return "", _("No market")
    return str(market.pk), f"{market.name}, {earned.formatter.day(market.held_on)}"


def _month(earned: Earned, line: SoldPiece) -> tuple[str, str]:
    return _named_month(line.sale.sold_on)


def _named_month(day: date) -> tuple[str, str]:
    return f"{day:%Y-%m}", date_format(day, "F Y")


KEYS: dict[str, Callable[[Earned, SoldPiece], tuple[str, str]]] = {
    "piece": _piece,
    "series": _series,
    "size": _size,
    "technique": _technique,
    "medium": _medium,
    "channel": _channel,
    "market": _market,
    "month": _month,
}


def _fee_key(fee: MonthlyFee, by: str) -> tuple[str, str]:
    """Key and label of the group that a monthly fee belongs to."""
    if by == "channel":
        return str(fee.channel.pk), fee.channel.name
    if by == "month":
        return _named_month(fee.month)
    return FEES, _("Monthly fees of sales channels")


def hourly(total: SalesTotal) -> Hourly:
    """The profit beside the time that was worked on the pieces sold."""
    return Hourly(total.profit, total.labour, total.seconds)


@dataclass(frozen=True, slots=True)
class WorkedInPeriod:
    """The profit on the sales of a period beside all work of its days, on whatever was worked."""

    first: date
    last: date
    profit: int
    minutes: int

    @property
    def seconds(self) -> int:
        return self.minutes * 60

    @property
    def profit_per_hour(self) -> int | None:
        return per_hour(self.profit, self.seconds)


def worked_in(first: date, last: date, profit: int) -> WorkedInPeriod:
    """Sessions of these days, and what was worked on pieces since. Time at markets is on the page of each market."""
    minutes = sum(each.minutes for each in work_between(first, last))
    return WorkedInPeriod(first, last, profit, minutes)


def _total(lines: Sequence[SoldPiece], fees: Sequence[MonthlyFee]) -> SalesTotal:
    total, monthly = total_of(lines), sum(fee.amount for fee in fees)
    return replace(total, monthly_fees=monthly, net_proceeds=total.net_proceeds - monthly)


def earned_by(sales: QuerySet[Sale], formatter: Formatter, fees: Sequence[MonthlyFee] = ()) -> Earned:
    """What these sales brought, less these monthly fees, in the same few queries however many there are."""
    figures = sale_figures(with_lines(sales), formatter.currency)
    sold = tuple(line for sale in figures for line in sale.lines)
    days = {figure.sale.sold_on for figure in figures}
    return Earned(
        lines=sold,
        media=media_of([pour for line in sold for pour in line.piece.pours]),
        formatter=formatter,
        markets=by_day_and_channel(MarketDay.objects.filter(held_on__in=days)),
        fees=tuple(fees),
    )


def fees_between(
    first: date | None, last: date | None, channel: SalesChannel | None, *, today: date
) -> list[MonthlyFee]:
    """The monthly fees of a period, of one channel or of all: from the first sale ever on, and not after today."""
    opened = Sale.objects.aggregate(first=Min("sold_on"))["first"]
    if opened is None:
        return []
    fees = fees_by_month(max(first or opened, opened), min(last or today, today))
    return [fee for fee in fees if channel is None or fee.channel == channel]


def stock_turn(first: date, last: date) -> StockTurn:
    """How often the materials in unsold work were sold from one day to another, as the ledger has them."""
    sold = Entry.objects.filter(place=Place.SOLD, effective_on__range=(first, last))
    in_work = Entry.objects.filter(place=Place.WORK)
    return StockTurn(
        cost_of_sales=_sum(sold),
        opening=_sum(in_work.filter(effective_on__lt=first)),
        closing=_sum(in_work.filter(effective_on__lte=last)),
        days=(last - first).days + 1,
    )


def _sum(entries: QuerySet[Entry]) -> int:
    return int(entries.aggregate(money=Sum("money"))["money"] or 0)


@dataclass(frozen=True, slots=True)
class Unsold:
    """A piece that waits for a buyer: since when it is for sale, for how many days, and what it cost."""

    piece: Piece
    since: date
    days: int
    cost: int
    is_slow: bool


@dataclass(frozen=True, slots=True)
class Waiting:
    """Pieces for sale, those that have waited longest first; and the days within which three of four were sold."""

    pieces: tuple[Unsold, ...]
    slow_after: int | None
    sold: int

    @property
    def slow(self) -> int:
        return sum(each.is_slow for each in self.pieces)

    @property
    def cost(self) -> int:
        return sum(each.cost for each in self.pieces)


def waiting_pieces(on: date, formatter: Formatter) -> Waiting:
    """Every piece that could be sold, by how long it has been for sale."""
    days = _days_to_sell()
    limit = slow_after(days)
    pieces = list(with_parts(standing_pieces().filter(state__in=SELLABLE)))
    since = _for_sale_since(pieces)
    costs = cost_summaries(pieces)
    rows = [
        Unsold(
            piece,
            since[piece.pk],
            waited := max((on - since[piece.pk]).days, 0),
            round_to_minor(costs[piece.pk].whole, formatter.currency),
            limit is not None and waited > limit,
        )
        for piece in pieces
        if piece.pk in since
    ]
    return Waiting(tuple(sorted(rows, key=lambda row: (-row.days, row.piece.pk))), limit, len(days))


def _for_sale_since(pieces: Collection[Piece]) -> dict[int, date]:
    """The last day on which each was put up for sale; pieces that never were are not in it."""
    steps = PieceStep.objects.filter(piece__in=pieces, to_state=State.FOR_SALE)
    return dict(steps.order_by().values_list("piece").annotate(Max("on")))


def _days_to_sell() -> list[int]:
    """From being put up for sale to the sale, of every piece that stayed sold."""
    sold = SaleLine.objects.filter(returned_on__isnull=True).values_list("piece", "sale__sold_on")
    offered: dict[int, list[date]] = defaultdict(list)
    steps: Iterable[tuple[int, date]] = PieceStep.objects.filter(
        to_state=State.FOR_SALE, piece__state=State.SOLD
    ).values_list("piece", "on")
    for piece, day in steps:
        offered[piece].append(day)
    return [
        (on - max(before)).days
        for piece, on in sold
        if (before := [day for day in offered[piece] if day <= on])
    ]
