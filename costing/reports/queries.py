"""A period for the accountant: stock from its opening to its close, profit, and what came in and went out in cash.

The ledger keeps materials alone, so cost here is what materials cost; the owner's own work is no cost of hers. Money is
millionths of the currency unit. Not tax or legal advice.
"""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from functools import reduce
from operator import add

from django.db.models import Case, F, Min, Q, Sum, When

from costing.commissions.models import CommissionPayment, PaymentKind
from costing.commissions.queries import customer_deposits
from costing.markets.models import MarketDay
from costing.overhead.models import OverheadYear
from costing.overhead.queries import YearFigures, year_figures
from costing.pieces.calculations import State
from costing.pieces.models import Piece, PieceStep
from costing.pricing.models import SalesChannel
from costing.pricing.terms import monthly_fees
from costing.reports.calculations import (
    TAKEN_OUT,
    CashAccount,
    ChannelSales,
    Loss,
    ProfitAccount,
    StockAccount,
    Way,
)
from costing.reports.stages import Owned, by_stage, owned_on
from costing.reports.write_downs import written_down
from costing.selling.models import FEES, Refund, Sale, SaleLine
from inventory.ledger.models import Books, Entry, Place, PostingKind, Reason
from studio.preferences.models import Studio
from studio.values.money import round_to_minor

BROUGHT_IN = "brought in"  # opening stock: owned before the books began, not bought since
OF_OPENING_STOCK = (
    Q(posting__kind=PostingKind.OPENING)
    | Q(posting__reverses__kind=PostingKind.OPENING)
    | Q(posting__corrects__kind=PostingKind.OPENING)
)
NOTHING = (0, 0, 0, 0, 0)
A_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Period:
    """From the beginning of one day to the end of another."""

    first: date
    last: date

    @property
    def ends(self) -> tuple[date, date]:
        return self.first, self.last

    @property
    def day_before(self) -> date:
        return self.first - A_DAY


@dataclass(frozen=True, slots=True)
class TakenOut:
    """What left for gifts and own use: at cost, and what the pieces among it would have been sold for."""

    cost: int
    market_value: int
    pieces: int


@dataclass(frozen=True, slots=True)
class YearEnd:
    """Everything that an accountant asks for. `head` and `hash` are the ledger's last posting when it was read."""

    period: Period
    owned: tuple[Owned, ...]  # at its close
    stock: StockAccount
    profit: ProfitAccount
    cash: CashAccount
    taken_out: TakenOut
    written_down_before: int
    written_down: int
    deposits_before: int
    deposits: int
    overhead_years: tuple[YearFigures, ...]
    head: int
    hash: str

    @property
    def carried(self) -> int:
        """What stock stands at: its cost, less what was written down."""
        return self.stock.closed_with - self.written_down


def year_end(period: Period) -> YearEnd:
    """Read it all, in the same few dozen queries however long the period is."""
    opening, closing = owned_on(period.day_before), owned_on(period.last)
    before, after = written_down(opening, period.day_before), written_down(closing, period.last)
    stock, channels, years = _stock(period, opening, closing), _channels(period), _overhead_years(period)
    ahead, kept = _deposits(period)
    profit = ProfitAccount(
        channels=channels,
        stock=stock,
        write_downs=after - before,
        market_costs=_market_costs(period),
        overhead=_overhead_paid(years),
        deposits_kept=kept,
    )
    books = Books.objects.get()
    return YearEnd(
        period=period,
        owned=tuple(closing),
        stock=stock,
        profit=profit,
        cash=CashAccount.of(profit, ahead),
        taken_out=_taken_out(period, stock),
        written_down_before=before,
        written_down=after,
        deposits_before=customer_deposits(period.day_before),
        deposits=customer_deposits(period.last),
        overhead_years=years,
        head=books.last_number,
        hash=books.last_hash,
    )


def _stock(period: Period, opening: Iterable[Owned], closing: Iterable[Owned]) -> StockAccount:
    ends = [Place.OUTSIDE, Place.GAIN, Place.SOLD, Place.LOSS]
    rows = (
        Entry.objects.filter(effective_on__range=period.ends, place__in=ends)
        .order_by()
        .annotate(is_opening=Case(When(OF_OPENING_STOCK, then=True), default=False))
        .values_list("place", "reason", "is_opening")
        .annotate(sum=Sum("money"))
    )
    sums: Counter[str] = Counter()
    lost: Counter[int] = Counter()
    for place, reason, is_opening, money in rows:
        sums[BROUGHT_IN if place == Place.OUTSIDE and is_opening else place] += money
        if place == Place.LOSS:
            lost[reason] += money
    reasons = Reason.objects.in_bulk(lost)
    losses = [Loss(pk, reasons[pk].name, Way(reasons[pk].kind), money) for pk, money in lost.items() if money]
    return StockAccount(
        by_stage(opening),
        by_stage(closing),
        brought_in=-sums[BROUGHT_IN],
        purchases=-sums[Place.OUTSIDE],
        found=-sums[Place.GAIN],
        cost_of_sales=sums[Place.SOLD],
        losses=tuple(sorted(losses, key=lambda loss: (list(Way).index(loss.way), loss.name))),
    )


def _channels(period: Period) -> list[ChannelSales]:
    """What each channel sold and gave back in the period; a refund counts on its own day."""
    sold = (
        SaleLine.objects.filter(sale__sold_on__range=period.ends)
        .order_by()
        .values_list("sale__channel")
        .annotate(Sum("price"), Sum("postage"), Sum("tax"), Sum("postage_paid"), taken=_sum_of(FEES))
    )
    back = (
        Refund.objects.filter(on__range=period.ends)
        .order_by()
        .values_list("line__sale__channel")
        .annotate(Sum("amount"), Sum("tax"), Sum("fees"))
    )
    monthly = _monthly_fees(period)
    refunds = {channel: sums for channel, *sums in back}
    sales = {channel: sums for channel, *sums in sold}
    found = []
    for channel in SalesChannel.objects.filter(pk__in={*sales, *refunds, *monthly}):
        price, postage, tax, postage_paid, fees = sales.get(channel.pk, NOTHING)
        refunded, tax_back, fees_back = refunds.get(channel.pk, NOTHING[:3])
        found.append(
            ChannelSales(
                channel.pk,
                channel.name,
                paid=price + postage,
                refunds=refunded,
                tax=tax - tax_back,
                fees=fees - fees_back,
                postage_paid=postage_paid,
                monthly_fees=monthly.get(channel.pk, 0),
            )
        )
    return found


def _monthly_fees(period: Period) -> dict[int, int]:
    """What channels took by the month, from the first sale ever on: before it there was nothing to pay for."""
    began: date | None = Sale.objects.aggregate(first=Min("sold_on"))["first"]
    first = max(period.first, began) if began else None
    return monthly_fees(first, period.last) if first and first <= period.last else {}


def _sum_of(names: Iterable[str]) -> Sum:
    return Sum(reduce(add, map(F, names)))


def _market_costs(period: Period) -> int:
    """Pitch fees and travel. The hours are the owner's own."""
    currency = Studio.current().currency
    days = MarketDay.objects.filter(held_on__range=period.ends)
    return sum(day.pitch_fee + round_to_minor(day.travel, currency) for day in days)


def _overhead_years(period: Period) -> tuple[YearFigures, ...]:
    """The years of overhead that lie within the period."""
    years = OverheadYear.objects.filter(starts_on__gte=period.first, ends_on__lte=period.last)
    return tuple(year_figures(list(years.prefetch_related("lines").order_by("starts_on"))))


def _overhead_paid(years: Iterable[YearFigures]) -> int | None:
    amounts = [year.paid for year in years if year.paid is not None]
    return sum(amounts) if amounts else None


def _deposits(period: Period) -> tuple[int, int]:
    """What moved of customer deposits in cash, and what was kept of them. What a sale set off came in before."""
    rows = CommissionPayment.objects.filter(on__range=period.ends).order_by().values_list("kind")
    sums = dict(rows.annotate(sum=Sum("amount")))
    kept = -sums.pop(PaymentKind.KEPT, 0)
    return sum(sums.values()), kept


def _taken_out(period: Period, stock: StockAccount) -> TakenOut:
    """Gifts and own use: the material cost of all of it, and what pieces among it would have brought."""
    steps = PieceStep.objects.filter(to_state__in=[State.KEPT, State.GIVEN], on__range=period.ends)
    pieces = Piece.objects.filter(pk__in=steps.values("piece"), state__in=[State.KEPT, State.GIVEN])
    values = [
        value if value is not None else price for value, price in pieces.values_list("market_value", "price")
    ]
    return TakenOut(stock.lost_by(*TAKEN_OUT), sum(value or 0 for value in values), len(values))
