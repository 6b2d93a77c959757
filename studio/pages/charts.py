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
