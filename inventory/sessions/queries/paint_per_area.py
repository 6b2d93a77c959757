"""What a technique's own pours say of the paint it takes.

A pour counts when it stands, turned out good and is the one layer on its surface: a failed pour may have been stopped,
and one poured over another lies on paint. Where a technique starts anew from a day, earlier pours count no more.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import sqrt

from django.db.models import F, Q, QuerySet, Window
from django.db.models.functions import RowNumber

from inventory.materials.models import Kind, Material
from inventory.sessions.actions.sessions import area_of, size_of
from inventory.sessions.calculations import paint_needed
from inventory.sessions.models import Pour, Technique
from inventory.sessions.paint_per_area import (
    LATEST_POURS,
    Estimate,
    Learned,
    PastPour,
    edge_of,
    forecasts,
    learn,
)
from studio.values.allocation import MILLION, divide_half_up
from studio.values.sizes import Size

# The newest come first; a session's pours by their number.
_NEWEST_FIRST = [F("session__held_on").desc(), F("session_id").desc(), F("number").desc()]


@dataclass(frozen=True, slots=True)
class CountedPour:
    """A pour that counts, and what those before it would have foretold for it (thousandths of a mL)."""

    pour: Pour
    expected: int

    @property
    def off(self) -> int:
        """How much more it took than was expected, in millionths of that; less is below zero."""
        return divide_half_up((self.pour.poured - self.expected) * MILLION, self.expected)


@dataclass(frozen=True, slots=True)
class SizePaint:
    """One size of surface: its pours, newest first, and what the next one takes (thousandths of a mL)."""

    size: Size
    area: int
    pours: Sequence[CountedPour]
    estimate: Estimate

    @property
    def least_poured(self) -> int:
        return min(each.pour.poured for each in self.pours)

    @property
    def most_poured(self) -> int:
        return max(each.pour.poured for each in self.pours)

    @property
    def expected(self) -> int:
        return paint_needed(self.area, self.estimate.value)

    @property
    def low(self) -> int:
        return paint_needed(self.area, self.estimate.low)

    @property
    def high(self) -> int:
        return paint_needed(self.area, self.estimate.high)


@dataclass(frozen=True, slots=True)
class TechniquePaint:
    """What was learned of one technique. `pours` are those that count, newest first; the smallest size comes first."""

    technique: Technique
    learned: Learned
    pours: Sequence[CountedPour]
    sizes: Sequence[SizePaint]

    @property
    def mean_errors(self) -> tuple[int, int] | None:
        """How far off the forecasts were on average (millionths), older half and newer half; None below four pours."""
        half = len(self.pours) // 2
        if half < 2:
            return None
        return _mean_error(self.pours[-half:]), _mean_error(self.pours[:half])


def learned_by_technique(techniques: Iterable[Technique]) -> dict[int, Learned]:
    """What each technique's latest pours say, by its key: one query, however many."""
    techniques = list(techniques)
    latest = _latest(techniques, LATEST_POURS)
    return {
        technique.pk: learn(technique.coverage, [_past(pour) for pour in latest[technique.pk]])
        for technique in techniques
    }


def paint_of(technique: Technique) -> TechniquePaint:
    """Everything that the page of a technique's paint says: two queries."""
    # Twice as many as count, so that even the oldest that counts is held against what was known before it.
    known = _latest([technique], 2 * LATEST_POURS)[technique.pk]
    past = [_past(pour) for pour in known]
    expected = forecasts(technique.coverage, past[::-1])[::-1]
    counted = [
        CountedPour(pour, max(1, round(pour.area * rate / 1000)))
        for pour, rate in zip(known[:LATEST_POURS], expected, strict=False)
    ]
    learned = learn(technique.coverage, past[:LATEST_POURS])
    return TechniquePaint(technique, learned, counted, _sizes(counted, learned))


def _counting() -> QuerySet[Pour]:
    """The pours that count, by the rule above."""
    return (
        Pour.objects.standing()
        .filter(
            Q(technique__learn_from__isnull=True) | Q(session__held_on__gte=F("technique__learn_from")),
            over__isnull=True,
            poured__gt=0,
        )
        .exclude(outcome=Pour.Outcome.FAILED)
    )


def _latest(techniques: Sequence[Technique], most: int) -> dict[int, list[Pour]]:
    """Each technique's latest pours, newest first."""
    place = Window(RowNumber(), partition_by=F("technique_id"), order_by=_NEWEST_FIRST)
    rows = (
        _counting()
        .filter(technique__in=techniques)
        .annotate(place=place)
        .filter(place__lte=most)
        .select_related("surface", "session")
        .order_by("place")
    )
    by_technique: dict[int, list[Pour]] = defaultdict(list)
    for pour in rows:
        by_technique[pour.technique_id].append(pour)
    return by_technique


def _past(pour: Pour) -> PastPour:
    return PastPour(pour.poured, pour.area, edge_of(size_under(pour)))


def size_under(pour: Pour) -> Size:
    """The size of the surface; a square of the area poured where it is a surface no longer."""
    if pour.surface.height and pour.surface.width:
        return size_of(pour.surface)
    side = round(sqrt(pour.area * 1000))
    return Size(side, side)


def _sizes(pours: Sequence[CountedPour], learned: Learned) -> list[SizePaint]:
    """Every size that was poured on or is kept for pouring, the smallest first."""
    by_size: dict[tuple[int, Size], list[CountedPour]] = {
        (area_of(surface), size_of(surface)): []
        for surface in Material.objects.filter(kind=Kind.SURFACE, is_archived=False).order_by("pk")
    }
    for each in pours:
        by_size.setdefault((each.pour.area, size_under(each.pour)), []).append(each)
    return [
        SizePaint(size, area, by_size[area, size], learned.estimate(edge_of(size)))
        for area, size in sorted(by_size, key=lambda key: (key[0], key[1].height, key[1].width))
    ]


def _mean_error(pours: Sequence[CountedPour]) -> int:
    return divide_half_up(sum(abs(each.off) for each in pours), len(pours))
