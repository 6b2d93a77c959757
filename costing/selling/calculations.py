"""What several pieces sold together bring: discounts, postage, tax and fees shared over them to the penny.

Money is millionths of the currency unit. What is charged once for the whole sale (a discount, postage, tax, fees) is
worked out once, rounded once and shared by largest remainder, so that the lines add up to it. Not tax or legal advice.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from costing.errors import CostingError
from costing.pricing.calculations import Channel, as_taken
from studio.translation import _
from studio.values.allocation import allocate


@dataclass(frozen=True, slots=True)
class SaleTotals:
    """What is said of a sale as a whole: a discount on all of it, postage charged to the buyer, and postage paid."""

    discount: int = 0
    postage: int = 0
    postage_paid: int = 0


@dataclass(frozen=True, slots=True)
class PaidBefore:
    """What was paid for a commission before its sale, and the card fees that were taken of it then."""

    amount: int = 0
    fees: int = 0


NOTHING_BEFORE = PaidBefore()


@dataclass(frozen=True, slots=True)
class LineShares:
    """What one piece brings; the price is after discounts."""

    price: int
    postage: int
    postage_paid: int
    tax: int
    commission: int
    card_fee: int
    fixed_fee: int


def share_sale(
    prices: Sequence[int],
    totals: SaleTotals,
    charges: Channel,
    *,
    minor_unit: int,
    before: PaidBefore = NOTHING_BEFORE,
) -> list[LineShares]:
    """Share a sale over its pieces, whose prices are after their own discounts.

    The tax is taken on prices and postage, the commission on the prices, the fixed fee once a sale. The card fee is
    that of the balance due, and what was taken of the payments before. Raises CostingError when a discount leaves
    nothing of a price, or more was paid before than the sale comes to.
    """
    discounts = _shared(totals.discount, prices, minor_unit)
    left = [price - discount for price, discount in zip(prices, discounts, strict=True)]
    if any(price <= 0 for price in left):
        raise CostingError(_("The discount takes the whole price. Give less, or record a gift instead."))
    balance = sum(left) + totals.postage - before.amount
    if balance < 0:
        raise CostingError(
            _(
                "More was paid before than the price. Pay the difference back, or sell it for the agreed price."
            )
        )
    card_fee = before.fees + as_taken(balance, charges, minor_unit=minor_unit).card_fee
    goods = as_taken(sum(left), charges, minor_unit=minor_unit)
    whole = as_taken(sum(left) + totals.postage, charges, minor_unit=minor_unit)
    postage = _shared(totals.postage, left, minor_unit)
    paid = [price + carriage for price, carriage in zip(left, postage, strict=True)]
    columns = (
        left,
        postage,
        _shared(totals.postage_paid, left, minor_unit),
        _shared(whole.vat, paid, minor_unit),
        _shared(goods.commission, left, minor_unit),
        _shared(card_fee, paid, minor_unit),
        _shared(whole.fixed_fee, paid, minor_unit),
    )
    return [LineShares(*figures) for figures in zip(*columns, strict=True)]


def refunded_tax(amount: int, *, paid: int, tax: int, minor_unit: int) -> int:
    """Return what of a refund is tax: in the proportion that it was in what the buyer paid; all of it for all."""
    if not paid:
        return 0
    return allocate(tax // minor_unit, [amount, paid - amount])[0] * minor_unit


def _shared(total: int, weights: Sequence[int], minor_unit: int) -> list[int]:
    """Whole minor units each; a total is whole minor units itself."""
    return [units * minor_unit for units in allocate(total // minor_unit, weights)]
