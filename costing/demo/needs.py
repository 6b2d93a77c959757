"""What the year will use, so that the orders of the demo bring enough: an estimate by material and day."""

from collections import defaultdict
from collections.abc import Iterator, Sequence

from costing.demo.finishing import finish_of, packing_of
from costing.demo.plan import COASTERS, PlannedSession
from costing.demo.setting_up import Loft
from inventory.recipes.actions.mixes import planned
from inventory.sessions.actions.sessions import area_of

FINISHED_AFTER = 10
PACKED_AFTER = 40


class Needs:
    """Uses to come, by material name."""

    def __init__(self, loft: Loft, sessions: Sequence[PlannedSession]) -> None:
        self._uses: dict[str, list[tuple[int, int]]] = defaultdict(list)
        for session in sessions:
            for days_ago, name, quantity in _uses(loft, session):
                for bought, amount in _bought(loft, name, quantity):
                    self._uses[bought].append((days_ago, amount))

    def between(self, material: str, first: int, last: int) -> int:
        """What is used from `first` days ago up to `last`; beyond the last day as in the months before."""
        uses = self._uses[material]
        known = sum(quantity for days_ago, quantity in uses if last < days_ago <= first and days_ago >= 0)
        lately = sum(quantity for days_ago, quantity in uses if 0 <= days_ago < 120)
        return known + (lately * -last // 120 if last < 0 else 0)


def _uses(loft: Loft, session: PlannedSession) -> Iterator[tuple[int, str, int]]:
    """(days ago, material, quantity) of one session, its finishing and its packing."""
    day = session.days_ago
    for mix in session.mixes:
        yield day, mix.colour, mix.quantity
    for name, quantity in sundries_of(session):
        yield day, name, quantity
    for pour in session.pours:
        if pour.over is None:
            yield day, pour.surface, 1_000
        if not pour.failed:
            area = area_of(loft.materials[pour.surface])
            for name, quantity in finish_of(pour.surface, area):
                yield day - FINISHED_AFTER, name, quantity
    sets = 4 if session.bout is COASTERS else 1
    for pour in session.pours[::sets]:
        for name, quantity in packing_of(pour.surface):
            yield day - PACKED_AFTER, name, quantity


def _bought(loft: Loft, name: str, quantity: int) -> Iterator[tuple[str, int]]:
    """What is bought for it: a mixed material comes down to its parts, and those to theirs."""
    version = loft.versions.get(name)
    if version is None:
        yield name, quantity
        return
    for item in planned(version, quantity):
        if not item.material.is_free:
            yield from _bought(loft, item.material.name, item.quantity)


def sundries_of(session: PlannedSession) -> list[tuple[str, int]]:
    """Gloves, towels and cups of a session; a drop of silicone oil where cells are wanted."""
    pours = len(session.pours)
    used = [
        ("Nitrile gloves", 4_000),
        ("Paper towels", (3 + pours) * 1_000),
        ("Paper cups", (len(session.mixes) + pours) * 1_000),
    ]
    if session.bout.word == "tiles":
        used.append(("Silicone oil", 1_350))  # and drops in the first cup
    return used
