"""How long deliveries take: what the supplier states, blended with what its own deliveries took."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import pairwise
from math import exp, log, sqrt
from statistics import NormalDist

# Before a supplier's own deliveries are many, what it states weighs as much as so many of them. That deliveries take a
# tenth longer than stated, and vary by 30% of that, is our own choice, as is the longer tail of goods from abroad.
STATED_WEIGHS = 4
USUAL_DELAY, USUAL_VARIATION, VARIATION_FROM_ABROAD = 1.1, 0.3, 0.5
LONGEST = 365  # an order that takes longer is another matter
CUTS = (0.0, 0.1, 0.25, 0.4, 0.55, 0.7, 0.8, 0.88, 0.94, 0.98, 1.0)


@dataclass(frozen=True)
class LeadTime:
    """Days from the moment an order falls due until it is delivered, each with its share; the shares add up to 1."""

    points: tuple[tuple[int, float], ...]

    @cached_property
    def mean(self) -> float:
        return sum(days * share for days, share in self.points)

    @cached_property
    def variance(self) -> float:
        return sum(share * (days - self.mean) ** 2 for days, share in self.points)

    @property
    def longest(self) -> int:
        return max(days for days, _share in self.points)


@lru_cache
def usual_ratios(variation: float = USUAL_VARIATION) -> tuple[float, ...]:
    """Ten equally likely ratios of days taken to days stated: a lognormal's, rounded to hundredths."""
    spread = sqrt(log(1 + variation**2))
    centre = log(USUAL_DELAY) - spread**2 / 2
    normal = NormalDist(centre, spread)
    return tuple(round(exp(normal.inv_cdf((2 * number + 1) / 20)), 2) for number in range(10))


def lead_time(
    stated: int,
    *,
    own: Sequence[int] = (),
    still_open: Sequence[int] = (),
    ratios_of_others: Sequence[float] = (),
    variation: float = USUAL_VARIATION,
    days_between_checks: int = 1,
) -> LeadTime:
    """Ten points for what a delivery may take.

    `stated` are the supplier's days, `own` what its deliveries took, `still_open` how long its late orders have been
    out, `ratios_of_others` what other suppliers' deliveries took for each day stated. Who looks only every so many days
    orders later by any of them, equally likely.
    """
    ratios = (*usual_ratios(variation), *ratios_of_others)
    weights: dict[int, float] = defaultdict(float)
    for ratio in ratios:
        weights[_whole_days(stated * ratio)] += STATED_WEIGHS / len(ratios)
    for days in own:
        weights[_whole_days(days)] += 1
    weights.update(shared_to_the_right(weights, [_whole_days(days) for days in still_open]))
    checked: dict[int, float] = defaultdict(float)
    for days, weight in weights.items():
        for waiting in range(days_between_checks):
            checked[days + waiting] += weight / days_between_checks
    return LeadTime(_ten_points(sorted(checked.items())))


def shared_to_the_right(weights: Mapping[int, float], still_open: Sequence[int]) -> dict[int, float]:
    """Times with their weights, after each order that is still open has shared its weight of 1 among longer times.

    What has taken so long already takes longer yet: as those times do that are longer, in proportion to their weights
    (Efron, redistribution to the right, Proc. Fifth Berkeley Symposium 4 (1967), from memory: the estimate of Kaplan
    and Meier). Where none is longer, it counts as it stands.
    """
    times = sorted(
        [[days, False, weight] for days, weight in weights.items()]
        + [[days, True, 1.0] for days in still_open]
    )
    for position, (_days, is_open, weight) in enumerate(times):
        longer = times[position + 1 :]
        if is_open and longer:
            total = sum(each[2] for each in longer)
            for each in longer:
                each[2] += weight * each[2] / total
            times[position][2] = 0.0
    shared: dict[int, float] = defaultdict(float)
    for days, _is_open, weight in times:
        shared[int(days)] += weight
    return dict(shared)


def exactly(days: int) -> LeadTime:
    """A lead time that never varies."""
    return LeadTime(((days, 1.0),))


def _whole_days(days: float) -> int:
    return min(max(int(days + 0.5), 1), LONGEST)


def _ten_points(weighed: Sequence[tuple[int, float]]) -> tuple[tuple[int, float], ...]:
    """The means, rounded half up, of the bins between CUTS; bins of the same mean together."""
    total = sum(weight for _days, weight in weighed)
    points: dict[int, float] = defaultdict(float)
    for start, end in pairwise(CUTS):
        points[_whole_days(_mean_between(weighed, start * total, end * total))] += end - start
    return tuple(points.items())


def _mean_between(weighed: Sequence[tuple[int, float]], start: float, end: float) -> float:
    before = area = 0.0
    for days, weight in weighed:
        overlap = min(before + weight, end) - max(before, start)
        area += days * max(overlap, 0.0)
        before += weight
    return area / (end - start)
