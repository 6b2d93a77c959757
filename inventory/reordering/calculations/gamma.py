"""The gamma distribution with scale 1: what share lies below a value, and below which value a share lies.

Series and continued fraction as in Abramowitz & Stegun, Handbook of Mathematical Functions, 6.5.29 and 6.5.31.
"""

from math import exp, inf, lgamma, log, sqrt
from statistics import NormalDist

SMALL = 1e-16
MOST_TERMS = 10_000
MOST_STEPS = 200
CLOSE = 1e-6
TINY = 1e-300  # keeps a fraction's denominator from being nothing


def share_below(value: float, shape: float) -> float:
    """The regularised lower incomplete gamma function P(shape, value), for a shape above 0."""
    if value <= 0:
        return 0.0
    front = exp(shape * log(value) - value - lgamma(shape))
    return front * _series(value, shape) if value < shape + 1 else 1 - front * _fraction(value, shape)


def value_below_which(share: float, shape: float) -> float:
    """The value that the share lies below: Halley's steps, kept between bounds that close in."""
    low, high = 0.0, inf
    value = _first_guess(share, shape)
    for _step in range(MOST_STEPS):
        excess = share_below(value, shape) - share
        if excess > 0:
            high = value
        else:
            low = value
        density = exp((shape - 1) * log(value) - value - lgamma(shape))
        following = inf
        if density > TINY:
            step = excess / density
            following = value - step / (1 - min(1.0, step * ((shape - 1) / value - 1)) / 2)
        if (
            abs(following - value) <= CLOSE * value
        ):  # each step triples the digits: the next would add nothing
            return following
        if not low < following < high:
            following = 2 * value + 1 if high == inf else (low + high) / 2
        value = following
    return value


def _first_guess(share: float, shape: float) -> float:
    """Wilson and Hilferty's cube; where that fails, the leading term of the series."""
    cube = 1 - 1 / (9 * shape) + NormalDist().inv_cdf(share) / (3 * sqrt(shape))
    if cube > 0.1:
        return float(shape * cube**3)
    return exp((log(share) + lgamma(shape + 1)) / shape)


def _series(value: float, shape: float) -> float:
    term = total = 1 / shape
    for number in range(1, MOST_TERMS):
        term *= value / (shape + number)
        total += term
        if term < total * SMALL:
            break
    return total


def _fraction(value: float, shape: float) -> float:
    """By Lentz's rule, from memory."""
    part = value + 1 - shape
    upper, lower = 1 / TINY, 1 / part
    total = lower
    for number in range(1, MOST_TERMS):
        factor = number * (shape - number)
        part += 2
        lower = 1 / (factor * lower + part or TINY)
        upper = part + factor / upper or TINY
        change = upper * lower
        total *= change
        if abs(change - 1) < SMALL * 10:
            break
    return total
