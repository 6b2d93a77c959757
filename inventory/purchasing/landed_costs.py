"""What a delivered line cost on the shelf, part by part: price, carriage, duty, and tax that cannot be reclaimed."""

from collections.abc import Sequence
from typing import NamedTuple

from inventory.purchasing.models import Delivery, DeliveryLine
from studio.values.allocation import allocate
from studio.values.money import share_to_minor


class LandedParts(NamedTuple):
    """One line's landed cost in its parts, all in millionths of the studio's currency."""

    price: int
    carriage: int
    duty: int
    tax: int

    def as_printed(self, currency: str) -> "LandedParts":
        """The parts rounded so that they add up to the rounded landed cost."""
        return LandedParts(*share_to_minor(self, currency))


def value_weights(values: Sequence[int]) -> list[int]:
    """Weights for sharing by value; free samples that cost carriage share it evenly."""
    return list(values) if any(values) else [1] * len(values)


def home_prices(paid: int, prices: Sequence[int]) -> list[int]:
    """What each line cost in the studio's currency: `paid` shared by the invoice's prices, so that it adds up to it."""
    return allocate(paid, value_weights(prices))


def breakdown(delivery: Delivery, lines: Sequence[DeliveryLine]) -> list[LandedParts]:
    """The parts of every line of a posted delivery; each sums to the line's landed cost exactly.

    Duty and tax are shared again as they were then. Carriage is what remains, because weights may have rested on
    a density that has been measured anew since.
    """
    invoiced = [line.price for line in lines]
    prices, weights = home_prices(delivery.paid, invoiced), value_weights(invoiced)
    duties, taxes = allocate(delivery.duty, weights), allocate(delivery.tax, weights)
    return [
        LandedParts(price, line.landed - price - duty - tax, duty, tax)
        for line, price, duty, tax in zip(lines, prices, duties, taxes, strict=True)
    ]
