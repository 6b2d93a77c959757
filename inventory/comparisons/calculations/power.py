"""How many pours it takes: the spread of like pours, and how small a difference so many of them would find.

The numbers of pours come from a simulation of the test used here, over its designs (own work: found in four of
five comparisons, to a tenth of the spread).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import isqrt

from inventory.comparisons.calculations.designs import Block, Score, arm_count, mean
from studio.values.allocation import divide_half_up

# Difference in spreads (squared where compared) → pours per arm that show it, and that lean towards it.
SHOWING = (("3", 4), ("2.5", 5), ("2", 6), ("1.5", 9), ("1.25", 12), ("1", 17))
LEANING = (("3", 3), ("2.5", 3), ("2", 4), ("1.5", 5), ("1.25", 7), ("1", 10))
# Pours per arm in one session → the difference, in spreads, that they find in four of five comparisons.
FOUND = ((4, "2.9"), (5, "2"), (6, "1.85"), (8, "1.5"), (10, "1.4"))
# The 20th percentile of chi-squared by degrees of freedom (R. A. Fisher and F. Yates, Statistical Tables; a
# spread from few pours may be too small by this much). From eight on, the spread is taken as it is.
CHI_SQUARED_20 = ("0.0642", "0.4463", "1.0052", "1.6488", "2.3425", "3.0701", "3.8223")


@dataclass(frozen=True, slots=True)
class Spread:
    """How far like pours lie apart: their variance, from so many degrees of freedom."""

    variance: Fraction
    freedom: int

    @property
    def cautious_variance(self) -> Fraction:
        """With few pours, what the variance may well be: exceeded in one case of five."""
        if not 1 <= self.freedom <= len(CHI_SQUARED_20):
            return self.variance
        return self.variance * self.freedom / Fraction(CHI_SQUARED_20[self.freedom - 1])


def spread_of(blocks: Sequence[Block], criterion: int = 0) -> Spread | None:
    """The variance of like pours: of one arm in one session; None where nothing tells it.

    Where every session has one pour of each arm, what sessions and arms leave over stands in (two-way residuals).
    """
    arms = range(arm_count(blocks))
    cells = [cell for block in blocks for arm in arms if (cell := block.of(arm, criterion))]
    freedom = sum(len(cell) - 1 for cell in cells)
    if freedom:
        squares = sum((x - mean(cell)) ** 2 for cell in cells for x in cell)
        return Spread(Fraction(squares) / freedom, freedom)
    return _residual_spread(blocks, criterion)


def _residual_spread(blocks: Sequence[Block], criterion: int) -> Spread | None:
    arms = arm_count(blocks)
    freedom = (len(blocks) - 1) * (arms - 1)
    if freedom < 1 or any(sorted(block.arms) != list(range(arms)) for block in blocks):
        return None
    rows: list[list[Score]] = []
    for block in blocks:
        row = [block.of(arm, criterion)[0] for arm in range(arms)]
        rows.append([score - mean(row) for score in row])
    arm_means = [mean(column) for column in zip(*rows, strict=True)]
    squares = sum((x - arm_means[arm]) ** 2 for row in rows for arm, x in enumerate(row))
    return Spread(Fraction(squares) / freedom, freedom)


def pours_needed(delta: Fraction, variance: Fraction, *, leaning: bool = False) -> int:
    """How many pours per arm find a difference of `delta` in four of five comparisons.

    Below a difference of one spread, 16·(s/δ)² + 1, the usual approximation for 80 % at 5 % (J. Cohen, Statistical
    Power Analysis; from memory).
    """
    for ratio, pours in LEANING if leaning else SHOWING:
        if delta * delta >= Fraction(ratio) ** 2 * variance:
            return pours
    beyond = 16 * variance / (delta * delta)
    pours = -(-beyond.numerator // beyond.denominator) + 1
    # Leaning takes 10 pours where showing takes 17.
    return -(-pours * 10 // 17) if leaning else pours


def smallest_found(pours: int, variance: Fraction) -> Fraction | None:
    """The smallest difference, to a tenth, that so many pours per arm would find; None where none would be."""
    if pours < FOUND[0][0]:
        return None
    ratio = min(Fraction(ratio) for needed, ratio in FOUND if needed <= pours)
    if pours > FOUND[-1][0]:
        ratio = min(ratio, 4 / _root(Fraction(pours - 1)))
    tenths = ratio * _root(variance) * 10
    return Fraction(divide_half_up(tenths.numerator, tenths.denominator), 10)


def _root(value: Fraction) -> Fraction:
    """The square root, to a thousandth below."""
    return Fraction(isqrt(value.numerator * 1_000_000 // value.denominator), 1000)
