"""How often arms that are alike would differ as much: the arms are reshuffled inside each session.

R. A. Fisher's randomisation test (The Design of Experiments, 1935). It holds when it was drawn by lot which
surface gets which arm. Scores are fractions and sums whole numbers: with floats, ties would be broken by dust.
All distinct sums are counted, by convolution; where there are too many of them, seeded draws stand in.
"""

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property, lru_cache
from itertools import combinations
from math import lcm
from random import Random

from inventory.comparisons.calculations.designs import Block, arm_count, mean

Sums = tuple[tuple[int, ...], ...]  # for each criterion, of each arm: the sum of score − session's mean
MOST_SUMS = 100_000
MOST_STEPS = 1_000_000
DRAWS = 9_999  # a probability of 0.05 is then known to 0.0044 (two standard errors)


class TooMany(Exception):
    """Raised when there are more distinct sums than can be gone through while somebody waits."""


@dataclass(frozen=True)
class Reshuffles:
    """What the reshuffled arms come to. `ways` counts each outcome, encoded; `is_exact` unless drawn."""

    observed: Sums
    sizes: tuple[int, ...]
    spreads: tuple[int, ...]  # Σx² for each criterion
    ways: dict[int, int]
    is_exact: bool
    encoding: "_Encoding"

    @cached_property
    def outcomes(self) -> list[tuple[Sums, int]]:
        return [(self.encoding.decode(code), ways) for code, ways in self.ways.items()]

    def share(self, statistic: Callable[[Sums], int]) -> Fraction:
        """The share of reshuffles at least as extreme as what was seen."""
        seen = statistic(self.observed)
        return self._share_of(sum(ways for sums, ways in self.outcomes if statistic(sums) >= seen))

    def shares(self, statistic: Callable[[Sums], int], seen: Sequence[int]) -> list[Fraction]:
        """The share of reshuffles with at least each of these values, each outcome gone through once."""
        tally: Counter[int] = Counter()
        for sums, ways in self.outcomes:
            tally[statistic(sums)] += ways
        return [
            self._share_of(sum(ways for value, ways in tally.items() if value >= least)) for least in seen
        ]

    def _share_of(self, extreme: int) -> Fraction:
        total = sum(self.ways.values())
        return Fraction(extreme, total) if self.is_exact else Fraction(extreme + 1, total + 1)


@dataclass(frozen=True, slots=True)
class _Encoding:
    """Sums of all criteria and arms but the last (it follows from the others) as digits of one number."""

    arms: int
    radices: tuple[int, ...]  # by criterion
    offsets: Sums  # added to the digits by criterion and arm

    def steps(self, scores: Sequence[int]) -> list[int]:
        """By arm, what one pour with these (raised) scores adds to the code."""
        steps, place = [0] * self.arms, 1
        for score, radix in zip(scores, self.radices, strict=True):
            for arm in range(self.arms - 1):
                steps[arm] += score * place
                place *= radix
        return steps

    def decode(self, code: int) -> Sums:
        rows = []
        for radix, offsets in zip(self.radices, self.offsets, strict=True):
            row = []
            for arm in range(self.arms - 1):
                code, digit = divmod(code, radix)
                row.append(digit + offsets[arm])
            rows.append((*row, -sum(row)))
        return tuple(rows)


@lru_cache(maxsize=64)
def reshuffle(blocks: tuple[Block, ...], *, seed: int = 1) -> Reshuffles:
    """Reshuffle the arms inside each block. The same blocks and seed give the same answer."""
    arms, criteria = arm_count(blocks), len(blocks[0].scores)
    centred = _centred(blocks, criteria)
    sizes = tuple(sum(block.counts(arms)[arm] for block in blocks) for arm in range(arms))
    lowest = [[min(row) for row in rows] for rows in centred]
    raised = [
        [tuple(x - low for x in row) for row, low in zip(rows, lows, strict=True)]
        for rows, lows in zip(centred, lowest, strict=True)
    ]
    encoding = _Encoding(
        arms,
        tuple(1 + sum(sum(rows[criterion]) for rows in raised) for criterion in range(criteria)),
        tuple(
            tuple(
                sum(
                    block.counts(arms)[arm] * lows[criterion]
                    for block, lows in zip(blocks, lowest, strict=True)
                )
                for arm in range(arms)
            )
            for criterion in range(criteria)
        ),
    )
    steps = [[encoding.steps(scores) for scores in zip(*rows, strict=True)] for rows in raised]
    observed = encoding.decode(
        sum(
            added[arm]
            for block, pours in zip(blocks, steps, strict=True)
            for arm, added in zip(block.arms, pours, strict=True)
        )
    )
    spreads = tuple(sum(x * x for rows in centred for x in rows[criterion]) for criterion in range(criteria))
    try:
        ways, is_exact = _all_sums(blocks, steps, arms), True
    except TooMany:
        ways, is_exact = _drawn_sums(blocks, steps, seed), False
    return Reshuffles(observed, sizes, spreads, ways, is_exact, encoding)


def _centred(blocks: Sequence[Block], criteria: int) -> list[list[tuple[int, ...]]]:
    """Score less the session's mean, as whole multiples of one unit for each criterion."""
    exact = [[[score - mean(row) for score in row] for row in block.scores] for block in blocks]
    units = [
        lcm(*(x.denominator for rows in exact for x in rows[criterion])) for criterion in range(criteria)
    ]
    return [
        [tuple(int(x * unit) for x in row) for row, unit in zip(rows, units, strict=True)] for rows in exact
    ]


def _all_sums(blocks: Sequence[Block], steps: Sequence[list[list[int]]], arms: int) -> dict[int, int]:
    sums = {0: 1}
    for block, pours in zip(blocks, steps, strict=True):
        inside = _sums_inside(block.counts(arms), pours)
        if len(inside) * len(sums) > MOST_STEPS:
            raise TooMany
        both: dict[int, int] = {}
        for mine, my_ways in sums.items():
            for other, other_ways in inside.items():
                both[mine + other] = both.get(mine + other, 0) + my_ways * other_ways
        sums = both
        if len(sums) > MOST_SUMS:
            raise TooMany
    return sums


def _sums_inside(counts: tuple[int, ...], pours: Sequence[Sequence[int]]) -> dict[int, int]:
    """One session: pour by pour, what the arms' sums can be and in how many ways, by what is left of each arm."""
    layers: dict[tuple[int, ...], dict[int, int]] = {counts: {0: 1}}
    for steps in pours:
        following: dict[tuple[int, ...], dict[int, int]] = {}
        for left, sums in layers.items():
            for arm, free in enumerate(left):
                if free:
                    target = following.setdefault((*left[:arm], free - 1, *left[arm + 1 :]), {})
                    step = steps[arm]
                    for total, ways in sums.items():
                        target[total + step] = target.get(total + step, 0) + ways
        layers = following
        if sum(map(len, layers.values())) > MOST_SUMS:
            raise TooMany
    [(_nothing_left, sums)] = layers.items()
    return sums


def _drawn_sums(blocks: Sequence[Block], steps: Sequence[list[list[int]]], seed: int) -> dict[int, int]:
    lot = Random(seed)  # noqa: S311 a simulation, no secret
    drawn: Counter[int] = Counter()
    arms = [list(block.arms) for block in blocks]
    for _draw in range(DRAWS):
        code = 0
        for mine, pours in zip(arms, steps, strict=True):
            lot.shuffle(mine)
            code += sum(added[arm] for arm, added in zip(mine, pours, strict=True))
        drawn[code] += 1
    return dict(drawn)


def any_difference(blocks: Sequence[Block], criterion: int = 0) -> Fraction:
    """The probability that arms which are alike differ as much in any way: ΣT²/n (of two arms, |T|)."""
    reshuffles = reshuffle(tuple(block.only(criterion=criterion) for block in blocks))
    common = lcm(*(size for size in reshuffles.sizes if size))
    weights = [common // size if size else 0 for size in reshuffles.sizes]
    return reshuffles.share(
        lambda sums: sum(w * total * total for w, total in zip(weights, sums[0], strict=True))
    )


def trend(blocks: Sequence[Block], criterion: int = 0, *, one_sided: bool = False) -> Fraction:
    """The probability of as strong a trend over ordered arms: |Σ j·T_j| (E. B. Page 1963, with ranks as scores).

    One-sided, that scores rise with the arm's number: only where that was expected before pouring.
    """
    reshuffles = reshuffle(tuple(block.only(criterion=criterion) for block in blocks))

    def along(sums: Sums) -> int:
        return sum(number * total for number, total in enumerate(sums[0]))

    return reshuffles.share(along if one_sided else lambda sums: abs(along(sums)))


@dataclass(frozen=True, slots=True)
class PairProbability:
    """Of one criterion and two arms: how often any criterion and pair of alike arms would differ as much."""

    criterion: int
    first: int
    second: int
    p: Fraction


def pair_probabilities(blocks: Sequence[Block]) -> tuple[list[PairProbability], bool]:
    """Every criterion and pair of arms, corrected for all of them at once; and whether that is exact.

    In each reshuffle the largest |meanᵢ − meanⱼ| / √Σx² over all criteria and pairs counts (maxT: P. H. Westfall
    and S. S. Young, Resampling-Based Multiple Testing, 1993; from memory).
    """
    reshuffles = reshuffle(tuple(blocks))
    pairs = list(combinations(range(len(reshuffles.sizes)), 2))
    judged = [criterion for criterion, spread in enumerate(reshuffles.spreads) if spread]
    sizes = reshuffles.sizes
    common = lcm(*((sizes[i] * sizes[j]) ** 2 * reshuffles.spreads[c] for c in judged for i, j in pairs))
    factors = [
        (c, i, j, sizes[j], sizes[i], common // ((sizes[i] * sizes[j]) ** 2 * reshuffles.spreads[c]))
        for c in judged
        for i, j in pairs
    ]

    def each(sums: Sums) -> list[int]:
        return [(sums[c][i] * a - sums[c][j] * b) ** 2 * factor for c, i, j, a, b, factor in factors]

    seen = each(reshuffles.observed)
    shares = reshuffles.shares(lambda sums: max(each(sums), default=0), seen)
    known = {(c, i, j): p for (c, i, j, *_sizes), p in zip(factors, shares, strict=True)}
    found = [
        PairProbability(c, i, j, known.get((c, i, j), Fraction(1)))
        for c in range(len(reshuffles.spreads))
        for i, j in pairs
    ]
    return found, reshuffles.is_exact


def alike_within(
    blocks: Sequence[Block], margin: Fraction, *, first: int = 0, second: int = 1, criterion: int = 0
) -> Fraction:
    """The probability that two arms seem as alike while they differ by `margin` or more, either way.

    The first arm is raised and lowered by the margin, and must then score above and below the second: the larger
    of the two one-sided probabilities.
    """
    pair = [block.only(criterion=criterion, arms=(first, second)) for block in blocks]
    shared = [block for block in pair if 0 in block.arms and 1 in block.arms]
    return max(_above(shared, margin), _above(shared, margin, sign=-1))


def _above(blocks: Sequence[Block], margin: Fraction, sign: int = 1) -> Fraction:
    shifted = tuple(
        Block(
            block.arms,
            (
                tuple(
                    sign * score + (margin if arm == 0 else 0)
                    for arm, score in zip(block.arms, block.scores[0], strict=True)
                ),
            ),
        )
        for block in blocks
    )
    return reshuffle(shifted).share(lambda sums: sums[0][0])
