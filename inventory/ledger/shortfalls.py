"""What the shelf holds too little of, in words."""

from inventory.errors import ShelfShortfall, day_in_words
from studio.translation import _
from studio.values.quantities import format_quantity
from studio.values.units import Measure


def described(item: ShelfShortfall) -> str:
    """One shortfall in words."""
    measure = Measure(item.measure)
    words = _(
        "{material}: {needed} needed, {held} in stock, {short} short.",
        material=item.name,
        needed=format_quantity(item.needed, measure),
        held=format_quantity(item.held, measure),
        short=format_quantity(item.short, measure),
    )
    if item.later_from is None:
        return words
    later = _(
        "{amount} came in later, from {day} on: if you had it before, give that opening stock or delivery its real day "
        "instead of adding more.",
        amount=format_quantity(item.later, measure),
        day=day_in_words(item.later_from),
    )
    return f"{words} {later}"
