"""What happens when: the year as things to do, day by day, each of which may put further things on the list."""

import heapq
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from enum import IntEnum
from itertools import count


class Hour(IntEnum):
    """The order of things within one day."""

    ORDERS = 0
    DELIVERIES = 1
    SHELF = 2
    BENCH = 3
    WORK = 4
    SALES = 5
    LAST = 6


Act = Callable[[int], None]


@dataclass(slots=True)
class Agenda:
    """Things to do, by days before the last day. An act is told how many days ago it happens."""

    _waiting: list[tuple[int, int, int, Act]] = field(default_factory=list)
    _turn: Iterator[int] = field(default_factory=count)

    def put(self, days_ago: int, hour: Hour, act: Act) -> None:
        """Enter an act; one that would lie ahead of the last day does not happen any more."""
        if days_ago >= 0:
            heapq.heappush(self._waiting, (-days_ago, hour, next(self._turn), act))

    def live(self, pause: Callable[[int], None]) -> None:
        """Do everything in order; `pause` is told the day after each act."""
        while self._waiting:
            day, _, _, act = heapq.heappop(self._waiting)
            act(-day)
            pause(-day)
