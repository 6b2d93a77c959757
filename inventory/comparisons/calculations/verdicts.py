"""What the scores of a comparison show, and what they do not. No winner is named where chance may be the reason."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from inventory.comparisons.calculations.designs import LEANS_AT, SHOWS_AT, Block, can_show, difference
from inventory.comparisons.calculations.power import pours_needed, smallest_found, spread_of
from inventory.comparisons.calculations.reshuffling import alike_within, pair_probabilities


class Finding(StrEnum):
    """What is said of two arms by one criterion."""

    SHOWS = "shows"
    LEANS = "leans"
    ALIKE = "alike"
    CANNOT_TELL = "cannot_tell"
    ONE_EACH = "one_each"
    MAY_BE_OTHER = "may_be_other"


@dataclass(frozen=True, slots=True)
class Verdict:
    """Of one criterion and two arms: `higher` scored above `lower` by `difference` (zero: as high).

    `p` is corrected for all criteria and pairs; None for one pour each. `more` is how many further pours per arm
    would find a difference of `margin`, `at_most` how many where like pours vary more than seen so far, and
    `smallest` what as many pours as these could have found; None where nothing tells how far like pours lie apart.
    """

    finding: Finding
    criterion: int
    higher: int
    lower: int
    difference: Fraction
    margin: Fraction | None
    p: Fraction | None = None
    more: int | None = None
    at_most: int | None = None
    smallest: Fraction | None = None


@dataclass(frozen=True, slots=True)
class Judgement:
    """All verdicts, whether the plan could show anything, and whether the probabilities are exact or drawn."""

    verdicts: list[Verdict]
    can_show: bool
    is_exact: bool


def judge(blocks: Sequence[Block], margins: Sequence[Fraction | None], *, is_fair: bool) -> Judgement:
    """Judge every criterion and pair of arms.

    `margins` has, by criterion, the difference that would matter; None where differences have no size (words).
    """
    probabilities, is_exact = pair_probabilities(blocks)
    verdicts = [
        _verdict(blocks, each.criterion, (each.first, each.second), margins[each.criterion], each.p, is_fair)
        for each in probabilities
        if _meet(blocks, each.first, each.second)
    ]
    return Judgement(verdicts, can_show(blocks), is_exact)


def _meet(blocks: Sequence[Block], first: int, second: int) -> bool:
    return any(first in block.arms and second in block.arms for block in blocks)


def _verdict(
    blocks: Sequence[Block],
    criterion: int,
    pair: tuple[int, int],
    margin: Fraction | None,
    p: Fraction,
    is_fair: bool,
) -> Verdict:
    apart = difference(blocks, *pair, criterion)
    higher, lower = pair if apart >= 0 else pair[::-1]
    sizes = [sum(block.arms.count(arm) for block in blocks) for arm in pair]
    if max(sizes) == 1:
        return Verdict(Finding.ONE_EACH, criterion, higher, lower, abs(apart), margin)
    if p <= LEANS_AT:
        finding = Finding.SHOWS if p <= SHOWS_AT else Finding.LEANS
        finding = finding if is_fair else Finding.MAY_BE_OTHER
    elif (
        is_fair
        and margin is not None
        and alike_within(blocks, margin, first=pair[0], second=pair[1], criterion=criterion) <= SHOWS_AT
    ):
        finding = Finding.ALIKE
    else:
        finding = Finding.CANNOT_TELL
    more, at_most, smallest = _further(blocks, criterion, margin, min(sizes))
    return Verdict(finding, criterion, higher, lower, abs(apart), margin, p, more, at_most, smallest)


def _further(
    blocks: Sequence[Block], criterion: int, margin: Fraction | None, pours: int
) -> tuple[int | None, int | None, Fraction | None]:
    spread = spread_of(blocks, criterion)
    if spread is None or margin is None:
        return None, None, None
    more = max(pours_needed(margin, spread.variance) - pours, 1)
    at_most = max(pours_needed(margin, spread.cautious_variance) - pours, 1)
    return more, at_most, smallest_found(pours, spread.variance)
