"""What a sales channel takes of a price on a day: its own terms, and the studio's tax; and its fees by the month."""

from calendar import monthrange
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from costing.pricing.calculations import Channel
from costing.pricing.models import ChannelTerms, Payment, SalesChannel
from studio.preferences.models import Studio
from studio.values.allocation import divide_half_up
from studio.values.dated import held_on
from studio.values.money import minor_unit

# Cash and a bank transfer cost nothing in most places (common practice, no source).
USUALLY_PAID_FOR = (Payment.CARD, Payment.ONLINE, Payment.GALLERY)


@dataclass(frozen=True, slots=True)
class TermsOn:
    """A channel's terms on a day, and since when they have been just these: None from the beginning.

    Shares are millionths, the fees millionths of the currency unit.
    """

    channel: SalesChannel
    commission: int
    commission_before_tax: bool
    card_rate: int
    fixed_fee: int
    monthly_fee: int
    since: date | None

    @property
    def lacks_fees(self) -> bool:
        """Whether nothing was entered that it takes, though such a channel usually takes something."""
        takes_nothing = not (self.commission or self.card_rate or self.fixed_fee or self.monthly_fee)
        return takes_nothing and self.channel.payment in USUALLY_PAID_FOR

    def charges(self, tax_rate: int) -> Channel:
        """The same for the calculations, with the tax of the day. Raises CostingError for senseless rates."""
        return Channel(
            commission=self.commission,
            card_rate=self.card_rate,
            fixed_fee=self.fixed_fee,
            vat_rate=tax_rate,
            commission_on_net=self.commission_before_tax,
        )


def terms_on(channel: SalesChannel, day: date) -> TermsOn:
    """Reads `channel.terms`: prefetch them where there are several channels."""
    entries = list(channel.terms.all())
    held = {
        name: held_on(day, ((entry.holds_from, getattr(entry, name)) for entry in entries))
        for name in ChannelTerms.values
    }
    value = {name: each.value for name, each in held.items() if each}
    since = [each.since for each in held.values() if each and each.since]
    return TermsOn(
        channel=channel,
        commission=value.get("commission", 0),
        commission_before_tax=bool(value.get("commission_before_tax", True)),
        card_rate=value.get("card_rate", 0),
        fixed_fee=value.get("fixed_fee", 0),
        monthly_fee=value.get("monthly_fee", 0),
        since=max(since, default=None),
    )


@dataclass(frozen=True, slots=True)
class MonthlyFee:
    """What a channel took for one month, by its first day, whatever was sold. Millionths of the currency unit."""

    channel: SalesChannel
    month: date
    amount: int


def fees_by_month(first: date, last: date) -> list[MonthlyFee]:
    """The monthly fees of every channel from one day to another, both included, month by month.

    Each day takes its share of the fee that holds on it: one in as many as its month has days. A month is rounded
    once, to the currency's minor unit. One query for the channels and one for their terms.
    """
    step = minor_unit(Studio.current().currency)
    fees = []
    for channel in SalesChannel.objects.filter(terms__monthly_fee__gt=0).distinct().prefetch_related("terms"):
        changes = sorted(
            (terms.holds_from or date.min, terms.monthly_fee)
            for terms in channel.terms.all()
            if terms.monthly_fee is not None
        )
        ends = [since for since, _fee in changes[1:]]
        spans = [
            (max(since, first), min(end - timedelta(days=1), last), fee)
            for (since, fee), end in zip(changes, [*ends, date.max], strict=True)
            if fee
        ]
        for month, in_days in sorted(_by_month(spans).items()):
            amount = divide_half_up(in_days, monthrange(month.year, month.month)[1] * step) * step
            fees.append(MonthlyFee(channel, month, amount))
    return fees


def monthly_fees(first: date, last: date) -> dict[int, int]:
    """The same summed up: by the channel's primary key, millionths. Channels without a monthly fee are not in it."""
    sums: dict[int, int] = defaultdict(int)
    for fee in fees_by_month(first, last):
        sums[fee.channel.pk] += fee.amount
    return dict(sums)


def _by_month(spans: list[tuple[date, date, int]]) -> dict[date, int]:
    """By month: each fee times the days for which it held."""
    sums: dict[date, int] = defaultdict(int)
    for first, last, fee in spans:
        for start, end in _months(first, last):
            sums[start.replace(day=1)] += fee * ((end - start).days + 1)
    return sums


def _months(first: date, last: date) -> Iterator[tuple[date, date]]:
    """A stretch of days cut at the ends of months."""
    while first <= last:
        end = min(first.replace(day=monthrange(first.year, first.month)[1]), last)
        yield first, end
        first = end + timedelta(days=1)
