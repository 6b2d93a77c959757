"""Figures through time as bars to draw: plain numbers, no page in sight."""

from collections.abc import Sequence
from dataclasses import dataclass

from studio.values.allocation import divide_half_up

BAR_HEIGHT = 100
BAR_STEP = 30


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar: what it stands for, what it says, how tall to draw it (0 to 100) and where."""

    label: str
    words: str
    height: int
    left: int

    @property
    def top(self) -> int:
        return BAR_HEIGHT - self.height


def bars(figures: Sequence[tuple[str, str, int]]) -> list[Bar]:
    """Bars of (label, words, amount) in the order given, the largest at full height; any amount above zero shows."""
    largest = max((amount for _, _, amount in figures), default=0)
    return [
        Bar(label, words, _height(amount, largest), position * BAR_STEP)
        for position, (label, words, amount) in enumerate(figures)
    ]


def _height(amount: int, largest: int) -> int:
    return max(1, divide_half_up(amount * BAR_HEIGHT, largest)) if amount > 0 and largest else 0


# Dots stay whole at both ends of their line.
MARGIN = 3


@dataclass(frozen=True, slots=True)
class Strip:
    """Figures as dots along a line, the stretch in which the next should lie, and its middle: percent from the left."""

    dots: list[int]
    start: int
    middle: int
    end: int

    @property
    def width(self) -> int:
        return self.end - self.start


def strips(figures: Sequence[tuple[Sequence[int], int, int, int]]) -> list[Strip]:
    """One strip for each (dots, low, middle, high), all on one scale from the least figure to the largest."""
    everything = [figure for dots, *stretch in figures for figure in (*dots, *stretch)]
    least, largest = min(everything, default=0), max(everything, default=0)
    span = max(largest - least, 1)

    def at(figure: int) -> int:
        return MARGIN + divide_half_up((figure - least) * (100 - 2 * MARGIN), span)

    return [Strip([at(dot) for dot in dots], at(low), at(mid), at(high)) for dots, low, mid, high in figures]
