"""What was poured for a comparison and how it was scored: sessions, arms, criteria; and what such a plan can show.

The unit is the pour. Arms could have been swapped only between pours of one session, so a session is a block.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import permutations
from math import factorial, prod

from inventory.errors import InventoryError
from studio.translation import _

Score = Fraction
# Two like ways differ as much as this in one comparison of twenty, and in one of five.
SHOWS_AT = Fraction(1, 20)
LEANS_AT = Fraction(1, 5)
# Beyond this many arms, their orders are not gone through one by one.
MOST_ARMS = 7


@dataclass(frozen=True, slots=True)
class Block:
    """The scored pours of one session. `arms` has the number (from 0) of each pour's arm.

    `scores` has a row for each criterion and in it a score for each pour, in the order of `arms`. Raises
    InventoryError where a pour lacks a score.
    """

    arms: tuple[int, ...]
    scores: tuple[tuple[Score, ...], ...] = ()

    def __post_init__(self) -> None:
        if any(len(row) != len(self.arms) for row in self.scores):
            raise InventoryError(_("Every pour needs one score for each criterion."))

    def counts(self, arms: int) -> tuple[int, ...]:
        """How many pours each of so many arms has here."""
        tally = Counter(self.arms)
        return tuple(tally[arm] for arm in range(arms))

    def of(self, arm: int, criterion: int) -> list[Score]:
        """The scores of one arm."""
        return [
            score for number, score in zip(self.arms, self.scores[criterion], strict=True) if number == arm
        ]

    def only(self, *, criterion: int, arms: Sequence[int] | None = None) -> "Block":
        """The same session with one criterion, and with these arms alone, renumbered in their order."""
        chosen = list(range(max(self.arms, default=-1) + 1)) if arms is None else list(arms)
        kept = [place for place, arm in enumerate(self.arms) if arm in chosen]
        row = self.scores[criterion]
        return Block(
            tuple(chosen.index(self.arms[place]) for place in kept), (tuple(row[place] for place in kept),)
        )

    def assignments(self) -> int:
        """In how many ways the arms could have fallen to these pours."""
        return factorial(len(self.arms)) // prod(map(factorial, Counter(self.arms).values()))


def arm_count(blocks: Sequence[Block]) -> int:
    """How many arms there are; their numbers run from 0."""
    return max((arm for block in blocks for arm in block.arms), default=-1) + 1


def assignments(blocks: Sequence[Block]) -> int:
    """In how many ways the arms could have fallen, inside each session."""
    return prod(block.assignments() for block in blocks)


def smallest_p(blocks: Sequence[Block], *, ordered: bool = False) -> Fraction:
    """The smallest probability that such a plan could ever give, whatever the scores.

    Exchanging the names of arms of equal size changes no statistic, so as many assignments as there are such
    exchanges are always as extreme as the best one (of ordered arms: the order and its reverse).
    """
    arms = arm_count(blocks)
    total = assignments(blocks)
    sizes = [tuple(block.counts(arms)[arm] for block in blocks) for arm in range(arms)]
    # Arms with the same number of pours in every session can be exchanged among themselves.
    alike = prod(map(factorial, Counter(sizes).values()))
    if ordered:
        alike = 2 if sizes == sizes[::-1] else 1
    return Fraction(min(alike, total), total)


def can_show(blocks: Sequence[Block]) -> bool:
    """Whether any scores at all could show a difference by this plan."""
    return smallest_p(blocks) <= SHOWS_AT


def midranks(scores: Sequence[Score]) -> tuple[Score, ...]:
    """Twice the rank of each, from 2 for the only lowest; equal ones share the mean of their ranks."""
    return tuple(
        Fraction(2 * sum(other < score for other in scores) + sum(other == score for other in scores) + 1)
        for score in scores
    )


def difference(blocks: Sequence[Block], first: int, second: int, criterion: int = 0) -> Fraction:
    """By how much the first arm scored above the second inside sessions: least squares over those with both.

    Raises InventoryError where no session has both.
    """
    weighted = weights = Fraction(0)
    for block in blocks:
        mine, other = block.of(first, criterion), block.of(second, criterion)
        if mine and other:
            weight = Fraction(len(mine) * len(other), len(mine) + len(other))
            weighted += weight * (mean(mine) - mean(other))
            weights += weight
    if not weights:
        raise InventoryError(_("No session has pours of both arms."))
    return weighted / weights


def mean(scores: Sequence[Score]) -> Score:
    return sum(scores, Fraction(0)) / len(scores)


def williams_square(arms: int) -> list[list[int]]:
    """Orders in which each arm follows each other one equally often: row 0, 1, k−1, 2, k−2 …, the others one on.

    For an odd number of arms each row is also mirrored (Williams 1949; from memory). Raises InventoryError
    for fewer than two.
    """
    if arms < 2:
        raise InventoryError(_("A comparison needs at least two arms. Add another."))
    first = [0]
    for step in range(1, arms // 2 + 1):
        first += [step, arms - step]
    first = first[:arms]
    rows = [[(arm + shift) % arms for arm in first] for shift in range(arms)]
    return rows + [row[::-1] for row in rows] if arms % 2 else rows


def orders_of(arms: int) -> list[tuple[int, ...]]:
    """Every order of so few arms."""
    return list(permutations(range(arms)))
