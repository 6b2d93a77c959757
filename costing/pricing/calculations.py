"""From cost to price and back: mark-up, tax, fees and the price floor of a sales channel.

Money in millionths of the currency unit, rates in millionths (20 % = 200,000). Not tax or legal advice.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from statistics import median
from typing import NamedTuple

from costing.errors import CostingError
from studio.translation import _
from studio.values.allocation import MILLION, divide_half_up

WHOLE_UNIT = 1_000_000  # one pound, euro or dollar in millionths
LEAST_KEPT = Fraction(1, 100)


@dataclass(frozen=True, slots=True)
class Channel:
    """What a way of selling takes from a tax-inclusive price: rates in millionths, the fixed fee in money.

    Enter fees as they are finally borne, including any tax on them that is not reclaimed.
    """

    commission: int = 0
    card_rate: int = 0
    fixed_fee: int = 0
    vat_rate: int = 0
    commission_on_net: bool = True

    def __post_init__(self) -> None:
        if min(self.commission, self.card_rate, self.fixed_fee, self.vat_rate) < 0:
            raise CostingError(
                _("Rates and fees cannot be negative. Enter 0 for what this sales channel does not charge.")
            )
        if self.kept_share < LEAST_KEPT:
            raise CostingError(
                _(
                    "Tax, commission and card fees take nearly the whole price. "
                    "Check the sales channel's rates."
                )
            )

    @property
    def kept_share(self) -> Fraction:
        """What is left of a price before the fixed fee: (1 − commission) ÷ (1 + VAT) − card rate."""
        net_of_vat = Fraction(MILLION, MILLION + self.vat_rate)
        base = net_of_vat if self.commission_on_net else 1
        return net_of_vat - base * Fraction(self.commission, MILLION) - Fraction(self.card_rate, MILLION)


@dataclass(frozen=True, slots=True)
class Proceeds:
    """Where a price goes, line by line; the lines add up to the price."""

    price: int
    vat: int
    commission: int
    card_fee: int
    fixed_fee: int

    @property
    def net(self) -> int:
        """What is left for cost and profit."""
        return self.price - self.vat - self.commission - self.card_fee - self.fixed_fee


class SizedPrice(NamedTuple):
    """A size (any measure that orders pieces) and its price."""

    size: int
    price: int


def price_from_markup(cost: int, markup: int) -> int:
    """Return cost × (1 + mark-up)."""
    return divide_half_up(cost * (MILLION + markup), MILLION)


def vat_in(gross: int, rate: int) -> int:
    """Return the tax inside a tax-inclusive price: gross × rate ÷ (1 + rate)."""
    return divide_half_up(gross * rate, MILLION + rate)


def proceeds(price: int, channel: Channel) -> Proceeds:
    """Return where a tax-inclusive price goes on a sales channel, each line rounded half up to a millionth."""
    vat = vat_in(price, channel.vat_rate)
    commission = divide_half_up(price * channel.commission, MILLION)
    if channel.commission_on_net:
        commission = divide_half_up(price * channel.commission, MILLION + channel.vat_rate)
    card_fee = divide_half_up(price * channel.card_rate, MILLION)
    return Proceeds(price, vat, commission, card_fee, channel.fixed_fee)


def as_taken(price: int, channel: Channel, *, minor_unit: int) -> Proceeds:
    """Return where a price goes when every line is rounded to the minor unit, a half up, as a till takes it."""
    exact = proceeds(price, channel)
    lines = (exact.vat, exact.commission, exact.card_fee, exact.fixed_fee)
    return Proceeds(price, *(divide_half_up(line, minor_unit) * minor_unit for line in lines))


def least_price(wanted: int, channel: Channel, *, minor_unit: int, step: int, tail: int = 0) -> int:
    """Return the lowest price, in whole steps and a tail, that leaves `wanted` after fees are rounded as taken.

    Rounding can take at most half a minor unit more or less a line, so no price below the exact one less that much
    can pay. From there every step is tried: what a price leaves does not always rise with it. All in millionths;
    raises CostingError for a negative amount.
    """
    if min(minor_unit, step) <= 0:
        raise CostingError(_("The smallest coin must be above zero."))
    if wanted < 0:
        raise CostingError(_("Cost and profit together cannot be below zero."))
    rounded_lines = 4
    least = (wanted + channel.fixed_fee - Fraction(rounded_lines * minor_unit, 2)) / channel.kept_share
    price = first_price(least, step, tail)
    while as_taken(price, channel, minor_unit=minor_unit).net < wanted:
        price += step
    return price


def first_price(least: int | Fraction, step: int, tail: int) -> int:
    """Return the lowest price, never below zero, of whole steps and a tail that is not below `least`."""
    return max(0, -int((tail - least) // step)) * step + tail


def usual_cost(costs: Sequence[int], minor_unit: int) -> int:
    """Return the median of at least one cost, rounded half up to the minor unit: an estimate claims no more."""
    usual = median([Fraction(cost) for cost in costs])
    return divide_half_up(usual.numerator, usual.denominator * minor_unit) * minor_unit


def out_of_order(prices: Iterable[SizedPrice]) -> list[tuple[SizedPrice, SizedPrice]]:
    """Return each piece cheaper than a smaller one, after the dearest of those smaller ones."""
    broken = []
    dearest: SizedPrice | None = None  # among strictly smaller sizes
    same_size: list[SizedPrice] = []
    for item in sorted(prices):
        if same_size and item.size > same_size[0].size:
            dearest = max([*same_size, *([dearest] if dearest else [])], key=lambda smaller: smaller.price)
            same_size = []
        same_size.append(item)
        if dearest is not None and item.price < dearest.price:
            broken.append((dearest, item))
    return broken
