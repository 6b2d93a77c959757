"""Exact whole-number arithmetic: one rounding rule, and shares that add up to the whole."""

from collections.abc import Sequence

from studio.errors import SharingError
from studio.translation import _

THOUSANDTHS = 1_000  # in one of a unit: how quantities and lengths are kept
MILLION = 1_000_000  # how money, shares and densities are kept


def divide_half_up(numerator: int, denominator: int) -> int:
    """Return numerator / denominator rounded to the nearest whole, halves away from zero.

    Raises SharingError when the denominator is not positive.
    """
    if denominator <= 0:
        raise SharingError(_("A share needs a positive divisor."))
    magnitude = (2 * abs(numerator) + denominator) // (2 * denominator)
    return magnitude if numerator >= 0 else -magnitude


def allocate(total: int, weights: Sequence[int]) -> list[int]:
    """Split total in proportion to weights by largest remainder (Hamilton's method); shares sum to it.

    Equal remainders go to the earlier weight first, so the answer is the same every time. A negative total is
    shared as the mirror image of the positive one. Raises SharingError when there is no weight above zero or
    one below.
    """
    if not weights or any(weight < 0 for weight in weights) or not any(weights):
        raise SharingError(
            _("There is nothing to share by: give at least one weight above zero and none below.")
        )
    whole, sign = abs(total), 1 if total >= 0 else -1
    weight_sum = sum(weights)
    parts = [divmod(whole * weight, weight_sum) for weight in weights]
    shares = [quotient for quotient, remainder in parts]
    left_over = whole - sum(shares)
    by_remainder = sorted(range(len(weights)), key=lambda index: -parts[index][1])
    for index in by_remainder[:left_over]:
        shares[index] += 1
    return [sign * amount for amount in shares]
