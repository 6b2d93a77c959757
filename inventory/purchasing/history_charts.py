"""Pictures of a supplier's history: days that orders took beside those promised, and a pack's price through time.

Plain numbers to draw: no page in sight. Across a picture runs from 0 to 100, or by steps of STEP; down from 0 to 100.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from studio.values.allocation import divide_half_up

STEP = 30
HEIGHT = 100
# A line stays clear of the edges, so that its ends can be seen.
MARGIN = 8


@dataclass(frozen=True, slots=True)
class DaysBar:
    """One order: how tall its bar is and where the promised days are marked (None for no promise), from 0 to 100."""

    label: str
    words: str
    height: int
    mark: int | None
    left: int
    is_open: bool

    @property
    def top(self) -> int:
        return HEIGHT - self.height

    @property
    def mark_top(self) -> int:
        return HEIGHT - (self.mark or 0)


def days_bars(orders: Sequence[tuple[str, str, int, int | None, bool]]) -> list[DaysBar]:
    """Bars of (label, words, days taken, days promised, still open), all on one scale."""
    largest = max((max(taken, promised or 0) for _l, _w, taken, promised, _o in orders), default=0)
    return [
        DaysBar(
            label,
            words,
            _height(taken, largest),
            None if promised is None else _height(promised, largest),
            place * STEP,
            is_open,
        )
        for place, (label, words, taken, promised, is_open) in enumerate(orders)
    ]


def _height(amount: int, largest: int) -> int:
    return max(1, divide_half_up(amount * HEIGHT, largest)) if largest else 1


def price_path(prices: Sequence[tuple[date, int]]) -> str:
    """The outline of an SVG path: a price holds until the day of the next one. Prices from the least to the most."""
    first, last = prices[0][0], prices[-1][0]
    low, high = min(price for _day, price in prices), max(price for _day, price in prices)
    days, span = max((last - first).days, 1), high - low

    def down(price: int) -> int:
        if not span:
            return HEIGHT // 2
        return HEIGHT - MARGIN - divide_half_up((price - low) * (HEIGHT - 2 * MARGIN), span)

    parts = [f"M0 {down(prices[0][1])}"]
    for day, price in prices[1:]:
        parts.append(f"H{divide_half_up((day - first).days * 100, days)}V{down(price)}")
    return "".join(parts)
