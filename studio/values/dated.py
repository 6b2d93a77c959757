"""What holds on a day, where each value holds from its own day on until the next one does."""

from collections.abc import Iterable
from datetime import date
from typing import NamedTuple


class Held(NamedTuple):
    """A value, and the day since when it holds: None for as long as anybody remembers."""

    value: int
    since: date | None


def held_on(day: date, changes: Iterable[tuple[date | None, int | None]]) -> Held | None:
    """The value that holds on a day, out of changes in any order: pairs of a first day and a value.

    A first day of None stands before every other; a value of None leaves what held before. None where nothing holds.
    """
    started = [
        Held(value, since)
        for since, value in changes
        if value is not None and (since is None or since <= day)
    ]
    return max(started, key=lambda held: held.since or date.min, default=None)
