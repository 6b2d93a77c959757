"""Which scores count, which are still missing, in which order to score, and what a session is compared in."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from inventory.comparisons.models import ComparedPour, Comparison, Score
from inventory.sessions.models import Pour, Session, Stage
from studio.accounts.models import User
from studio.translation import _

ScoreKey = tuple[int, int, str, int]  # pour in the comparison, criterion, stage, judge


def latest_scores(comparison: Comparison, *, pours: Collection[int] | None = None) -> dict[ScoreKey, Score]:
    """The scores that count: the latest of each judge for each pour, criterion and stage. One query."""
    rows = (
        Score.objects.filter(pour__comparison=comparison)
        .select_related("judge", "photo_count")
        .order_by("pk")
    )
    if pours is not None:
        rows = rows.filter(pour__in=pours)
    return {(row.pour_id, row.criterion_id, row.stage, row.judge_id): row for row in rows}


def altered_scores(comparison: Comparison) -> list[tuple[Score, Score]]:
    """Every score that replaced another one: what it was, and what it became, in their order."""
    before: dict[ScoreKey, Score] = {}
    altered = []
    rows = Score.objects.filter(pour__comparison=comparison).order_by("pk")
    for row in rows.select_related("judge", "criterion", "pour__pour", "recorded_by"):
        key = (row.pour_id, row.criterion_id, row.stage, row.judge_id)
        if key in before:
            altered.append((before[key], row))
        before[key] = row
    return altered


def missing_scores(comparison: Comparison) -> list[ScoreKey]:
    """The scores that its judges have not given yet."""
    scores = latest_scores(comparison)
    criteria = [each.pk for each in comparison.criteria.all() if each.is_scored]
    pours = comparison.pours.judged().values_list("pk", flat=True)
    judges = list(comparison.judges.values_list("pk", flat=True))
    return [
        key
        for pour in pours
        for criterion in criteria
        for stage in comparison.stages
        for judge in judges
        if (key := (pour, criterion, stage.value, judge)) not in scores
    ]


@dataclass(frozen=True, slots=True)
class Round:
    """One judge's scoring of all pours, wet or dry: how many are done, of how many."""

    stage: Stage
    judge: User
    done: int
    pours: int

    @property
    def is_done(self) -> bool:
        return self.done == self.pours


def rounds(comparison: Comparison) -> list[Round]:
    """What each judge has to score: a round for each stage."""
    waiting: dict[tuple[str, int], set[int]] = {}
    for pour, _criterion, stage, judge in missing_scores(comparison):
        waiting.setdefault((stage, judge), set()).add(pour)
    pours = comparison.pours.judged().count()
    if not any(each.is_scored for each in comparison.criteria.all()):
        return []
    judges = list(comparison.judges.order_by("pk"))
    return [
        Round(stage, judge, pours - len(waiting.get((stage.value, judge.pk), ())), pours)
        for stage in comparison.stages
        for judge in judges
    ]


def in_turn(comparison: Comparison, stage: str) -> list[ComparedPour]:
    """The pours in the order in which they are scored."""
    pours = comparison.pours.judged().select_related("arm", "pour__surface", "pour__session", "comparison")
    return sorted(pours, key=lambda each: each.turn(stage))


def compared_in(pours: Sequence[Pour]) -> str:
    """Why these pours are not struck out of their session: one is in a comparison."""
    compared = ComparedPour.objects.filter(pour__in=pours).select_related("pour", "comparison").first()
    if compared is None:
        return ""
    return _(
        "{pour} is in the comparison “{comparison}”, so it stays. Leave it out there for a reason.",
        pour=compared.pour.label,
        comparison=compared.comparison,
    )


def comparisons_of(session: Session) -> list[Comparison]:
    """The comparisons that one of a session's pours is in, with their arms."""
    pours = Pour.objects.filter(session=session)
    rows = Comparison.objects.filter(pours__pour__in=pours).distinct()
    return list(rows.prefetch_related("arms"))
