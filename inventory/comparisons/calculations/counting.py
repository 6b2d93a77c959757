"""Counting in windows drawn by lot: where they lie, how many there are per 100 cm², how large they are.

A simple random sample of quadrats without replacement: the face inside its margin is divided into equal squares, and
four of them are drawn. Lengths are thousandths of a centimetre from the top left corner of the piece, of a round one
from that of the square around it. Margin, size and number of the windows are our own choice.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import isqrt
from random import Random
from statistics import quantiles

from inventory.comparisons.calculations.designs import mean
from studio.values.allocation import divide_half_up

WINDOWS = 4
MARGIN = 20  # a twentieth of the shorter side
SQUARES = 25  # about so many, or more where a square would be larger than:
LARGEST_SIDE = 5_000

Place = tuple[int, int]  # left and top


@dataclass(frozen=True, slots=True)
class Windows:
    """Four squares of one size; `squares` is among how many they were drawn."""

    side: int
    squares: int
    places: tuple[Place, ...]

    @property
    def area(self) -> Fraction:
        """Of one window, in cm²."""
        return Fraction(self.side**2, 1_000_000)

    def holding(self, x: int, y: int) -> int | None:
        """Which window (from 0) holds a point; None where it is in none. A border belongs to the window it begins."""
        for number, (left, top) in enumerate(self.places):
            if left <= x < left + self.side and top <= y < top + self.side:
                return number
        return None


@dataclass(frozen=True, slots=True)
class Mark:
    """Something that was counted: a point, or with a second one a line across it. It lies where its middle is."""

    x: int
    y: int
    x2: int | None = None
    y2: int | None = None

    @property
    def middle(self) -> tuple[int, int]:
        if self.x2 is None or self.y2 is None:
            return self.x, self.y
        return (self.x + self.x2) // 2, (self.y + self.y2) // 2

    @property
    def diameter(self) -> int | None:
        """The length of its line in thousandths of a millimetre; None of a point."""
        if self.x2 is None or self.y2 is None:
            return None
        return root(100 * Fraction((self.x2 - self.x) ** 2 + (self.y2 - self.y) ** 2))


@dataclass(frozen=True, slots=True)
class Density:
    """How many per 100 cm², and the standard error of that: both in thousandths."""

    per_100: int
    error: int


@dataclass(frozen=True, slots=True)
class Sizes:
    """Of how many, their median and their quartiles, in thousandths of a millimetre."""

    number: int
    median: int
    lower: int
    upper: int


def root(value: Fraction) -> int:
    """A square root, rounded to a whole number."""
    return (isqrt(4 * value.numerator // value.denominator) + 1) // 2


def squares_of(*, height: int, width: int, is_round: bool) -> tuple[int, list[Place]]:
    """The side of the squares, and where those lie that are wholly on the piece and away from its edge."""
    margin = min(height, width) // MARGIN
    high, wide = height - 2 * margin, width - 2 * margin
    side = max(min(LARGEST_SIDE, isqrt(high * wide // SQUARES), high, wide), 1)
    columns, rows = wide // side, high // side
    if is_round:  # a line of the grid through the middle: so more of the squares fit into a disc
        columns, rows = columns - columns % 2, rows - rows % 2
    left, top = (width - columns * side) // 2, (height - rows * side) // 2
    places = [(left + column * side, top + row * side) for row in range(rows) for column in range(columns)]
    if is_round:
        places = [place for place in places if _is_inside(place, side, height, min(high, wide))]
    return side, places


def _is_inside(place: Place, side: int, diameter: int, inner: int) -> bool:
    """Whether a square lies in the disc of the inner diameter; distances from the middle are doubled to stay whole."""
    across, down = (max(abs(2 * start - diameter), abs(2 * (start + side) - diameter)) for start in place)
    return across**2 + down**2 <= inner**2


def windows_of(*, height: int, width: int, is_round: bool, seed: int) -> Windows:
    """Four of the squares, drawn by a lot that the seed repeats."""
    side, places = squares_of(height=height, width=width, is_round=is_round)
    drawn = Random(seed).sample(range(len(places)), min(WINDOWS, len(places)))  # noqa: S311 -- kept, not secret
    return Windows(side, len(places), tuple(places[number] for number in sorted(drawn)))


def tally(windows: Windows, marks: Sequence[Mark]) -> list[int]:
    """How many marks each window holds: those whose middle is inside.

    Everything has one middle, so it is counted once, in the window of its middle, however large it is: the associated
    point rule (Baddeley and Jensen, Stereology for Statisticians, 2005; from memory). Counting all that touch would
    favour the large.
    """
    held = [windows.holding(*mark.middle) for mark in marks]
    return [held.count(number) for number in range(len(windows.places))]


def density(windows: Windows, counts: Sequence[int]) -> Density:
    """The mean over the windows with its standard error, √((1 − n/N) s²/n): Cochran, Sampling Techniques, chapter 2."""
    per_100 = [Fraction(100 * count) / windows.area for count in counts]
    average, variance = mean_and_variance(per_100, windows.squares)
    thousandths = average * 1000
    return Density(divide_half_up(thousandths.numerator, thousandths.denominator), root(variance * 1_000_000))


def mean_and_variance(values: Sequence[Fraction], among: int) -> tuple[Fraction, Fraction]:
    """The mean of a simple random sample drawn among so many without replacement, and the variance of that mean."""
    average, n = mean(values), len(values)
    spread = (
        sum(((value - average) ** 2 for value in values), Fraction(0)) / (n - 1) if n > 1 else Fraction(0)
    )
    return average, (1 - Fraction(n, among)) * spread / n


def sizes(diameters: Sequence[int]) -> Sizes | None:
    """Median and quartiles (as a straight line between the values in order has them); None without any."""
    if not diameters:
        return None
    ordered = [Fraction(each) for each in sorted(diameters)]
    lower, middle, upper = quantiles(ordered, method="inclusive") if len(ordered) > 1 else ordered * 3
    return Sizes(
        len(ordered), *(divide_half_up(each.numerator, each.denominator) for each in (middle, lower, upper))
    )


def pooled_error(errors: Sequence[int]) -> int:
    """The standard error of the mean of several counts, from those of each."""
    return root(Fraction(sum(error**2 for error in errors), len(errors) ** 2))
