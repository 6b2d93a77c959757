"""How suggested prices come about, written out: "£32.00 − £5.33 tax − £0.56 card fee = £26.11 left"."""

from collections.abc import Sequence
from dataclasses import dataclass

from costing.pricing.calculations import Proceeds
from costing.pricing.queries import ChannelPrices, PriceAdvice, proceeds_of
from studio.preferences.formatting import Formatter
from studio.translation import _
from studio.values.money import share_to_minor
from studio.values.numbers import MINUS


@dataclass(frozen=True, slots=True)
class ChannelSums:
    """One sales channel, and a line for each price that is suggested there: its label and its sum."""

    channel: str
    lines: Sequence[tuple[str, str]]


def sum_of_price(proceeds: Proceeds, formatter: Formatter) -> str:
    """Where a price goes, and what is left of it. The lines of proceeds are whole minor units, so they add up."""
    taken = (
        (proceeds.vat, _("tax")),
        (proceeds.commission, _("commission")),
        (proceeds.card_fee, _("card fee")),
        (proceeds.fixed_fee, _("fixed fee")),
    )
    terms = [f"{formatter.money(amount)} {name}" for amount, name in taken if amount]
    if not terms:
        return _("{left} left", left=formatter.money(proceeds.net))
    terms.insert(0, formatter.money(proceeds.price))
    return _("{sum} = {left} left", sum=f" {MINUS} ".join(terms), left=formatter.money(proceeds.net))


def sum_with_markup(advice: PriceAdvice, formatter: Formatter) -> str:
    """What must be left of a price with markup, in lines that add up as they are printed."""
    start = advice.to_cover + advice.failures_money
    names = [_("to cover"), _("for failed pours"), _("markup")]
    amounts = share_to_minor(
        [advice.to_cover, advice.failures_money, advice.wanted - start], formatter.currency
    )
    terms = [
        f"{formatter.money(amount)} {name}" for amount, name in zip(amounts, names, strict=True) if amount
    ]
    return f"{' + '.join(terms)} = {formatter.money(sum(amounts))}"


def sums_by_channel(channels: Sequence[ChannelPrices], formatter: Formatter) -> list[ChannelSums]:
    """A line for each suggested price of each channel; one that is the same as the one before is left out."""
    return [ChannelSums(each.channel.name, _lines(each, formatter)) for each in channels]


def _lines(prices: ChannelPrices, formatter: Formatter) -> list[tuple[str, str]]:
    labels = {
        _("Lowest price"): prices.floor,
        _("With markup"): prices.wanted,
        _("Rounded up"): prices.wanted_whole,
        _("Rounded up to the next 5"): prices.wanted_fives,
    }
    lines, before = [], None
    for label, price in labels.items():
        if price != before:
            proceeds = proceeds_of(price, prices.charges, formatter.currency)
            lines.append((label, sum_of_price(proceeds, formatter)))
        before = price
    return lines
