"""The picture of stock through time: where each figure stands, in thousandths of the picture's width and height."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from inventory.reordering.outlooks import Outlook
from studio.values.allocation import divide_half_up

WHOLE = 1_000
# The line of the largest figure stays a little below the upper edge.
TOP = 60


@dataclass(frozen=True, slots=True)
class Mark:
    """Something that comes or goes on a day: how far from the left."""

    x: int

    @property
    def left(self) -> str:
        """As a length in SVG."""
        return _percent(self.x)


@dataclass(frozen=True, slots=True)
class Drawing:
    """Paths and marks; `level` is how far down the reorder level stands, None where there is none."""

    past: str
    filled: str
    fan: str
    middle: str
    level: int | None
    today: Mark
    arrivals: Sequence[Mark]
    takings: Sequence[Mark]
    first: date
    last: date
    most: int

    @property
    def level_top(self) -> str:
        return _percent(self.level or 0)


def drawing_of(outlook: Outlook) -> Drawing | None:
    """The picture of an outlook; nothing to draw for what was never in stock and is not expected to be."""
    past, ahead = outlook.past, outlook.ahead
    level = outlook.level.level
    most = max(
        [quantity for _day, quantity in past] + [each.high for each in ahead] + [level or 0], default=0
    )
    if not most:
        return None
    first, last = past[0][0], ahead[-1].day if ahead else outlook.on
    span = max((last - first).days, 1)

    def x(day: date) -> int:
        return min(max(divide_half_up((day - first).days * WHOLE, span), 0), WHOLE)

    def y(quantity: int) -> int:
        return WHOLE - divide_half_up(quantity * (WHOLE - TOP), most)

    steps = " ".join(f"H{x(day)}V{y(quantity)}" for day, quantity in past[1:])
    line = f"M0 {y(past[0][1])} {steps} H{x(outlook.on)}"
    upper = [f"{x(each.day)} {y(each.high)}" for each in ahead]
    lower = [f"{x(each.day)} {y(each.low)}" for each in reversed(ahead)]
    return Drawing(
        past=line,
        filled=f"{line}V{WHOLE}H0Z",
        fan=f"M{' L'.join([*upper, *lower])}Z" if ahead else "",
        middle=f"M{' L'.join(f'{x(each.day)} {y(each.middle)}' for each in ahead)}" if ahead else "",
        level=y(level) if level is not None else None,
        today=Mark(x(outlook.on)),
        arrivals=[Mark(x(each.day)) for each in outlook.arrivals if each.day <= last],
        takings=[Mark(x(each.day)) for each in outlook.takings if each.day <= last],
        first=first,
        last=last,
        most=most,
    )


def _percent(thousandths: int) -> str:
    return f"{thousandths / 10:.1f}%"
