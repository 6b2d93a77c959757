"""What a comparison came to: arm by arm, how like its pours were, and what the scores show."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from django.db.models import Count

from inventory.comparisons.calculations.agreement import Agreement, agreement
from inventory.comparisons.calculations.designs import Block, mean, midranks
from inventory.comparisons.calculations.facts import PourRecord, Varied
from inventory.comparisons.calculations.likeness import Fairness, Likeness, likeness
from inventory.comparisons.calculations.verdicts import Judgement, Verdict, judge
from inventory.comparisons.models import (
    FIGURES,
    ComparedPour,
    Comparison,
    ComparisonArm,
    Criterion,
    Scale,
    Score,
)
from inventory.comparisons.queries.counting import Counted, counted_of
from inventory.comparisons.queries.progress import latest_scores
from inventory.comparisons.queries.records import records_of
from inventory.sessions.models import Pour, Session, Stage
from inventory.sessions.queries.session_costs import costs_of_pours
from studio.values.allocation import MILLION, divide_half_up

Scores = Mapping[tuple[int, int, str], Mapping[int, Fraction]]  # by pour, criterion and stage; then by judge


@dataclass(frozen=True, slots=True)
class Measured:
    """A criterion as it was scored wet or dry; how a pour turned out has no stage."""

    criterion: Criterion
    stage: Stage | None

    @property
    def label(self) -> str:
        return f"{self.criterion.name}, {self.stage.label.lower()}" if self.stage else self.criterion.name


@dataclass(slots=True)
class ArmResult:
    """One arm: how many pours, what they cost (millionths) and took, and their mean scores by `measures`."""

    arm: ComparisonArm
    pours: list[ComparedPour]
    cost: int
    minutes: Fraction
    run_off: Fraction | None
    means: list[Fraction | None] = field(default_factory=list)

    @property
    def good(self) -> int:
        return sum(each.pour.outcome == Pour.Outcome.GOOD for each in self.pours)

    @property
    def not_judged(self) -> int:
        return sum(each.pour.outcome == Pour.Outcome.OPEN for each in self.pours)

    @property
    def failed(self) -> list[Pour]:
        return [each.pour for each in self.pours if each.pour.outcome == Pour.Outcome.FAILED]

    @property
    def flaws(self) -> list[tuple[str, int]]:
        """What was wrong with its pours, wet or dry, and with how many of them."""
        tally: Counter[str] = Counter()
        for each in self.pours:
            judgements = each.pour.judgements.all()
            tally.update({flaw.flaw.name for one in judgements for flaw in one.judged_flaws.all()})
        return sorted(tally.items())

    @property
    def drying_days(self) -> Fraction | None:
        """Days from pouring to the first dry judgement, on average of those that have one."""
        days = []
        for each in self.pours:
            dry = [one.judged_on for one in each.pour.judgements.all() if one.stage == Stage.DRY]
            if dry:
                days.append(Fraction((min(dry) - each.pour.session.held_on).days))
        return mean(days) if days else None

    @property
    def cost_per_good_pour(self) -> int | None:
        """The arm's whole cost over its good pours; None when none turned out."""
        return divide_half_up(self.cost, self.good) if self.good else None

    @property
    def minutes_each(self) -> int | None:
        if not self.pours:
            return None
        each = self.minutes / len(self.pours)
        return divide_half_up(each.numerator, each.denominator)

    @property
    def run_off_share(self) -> int | None:
        """Run-off as a share of what was poured, in millionths; None where it was not measured of any."""
        return None if self.run_off is None else int(self.run_off * MILLION)


@dataclass(slots=True)
class Results:
    """All of it. `judgement` is None while nothing can be judged; its verdicts count their criteria in `judged`."""

    comparison: Comparison
    measures: list[Measured]
    arms: list[ArmResult]
    likeness: Likeness
    records: list[PourRecord]
    sessions: dict[str, Session]
    left_out: list[ComparedPour]
    judged: list[Measured] = field(default_factory=list)
    waiting: list[Measured] = field(default_factory=list)
    judgement: Judgement | None = None
    agreements: list[tuple[Measured, Agreement]] = field(default_factory=list)
    counted: list[Counted] = field(default_factory=list)

    @property
    def verdicts(self) -> list[tuple[Measured, Verdict]]:
        if self.judgement is None:
            return []
        return [(self.judged[verdict.criterion], verdict) for verdict in self.judgement.verdicts]

    @property
    def is_fair(self) -> bool:
        return self.likeness.fairness in (Fairness.FAIR, Fairness.AS_FAR_AS_RECORDED)


def results_of(comparison: Comparison) -> Results:
    """Work a comparison out: some ten queries, however many pours and scores it has."""
    rows = comparison.pours.select_related(
        "arm", "pour__session__posting__reversed_by", "pour__surface", "pour__technique", "comparison"
    ).prefetch_related("pour__judgements__judged_flaws__flaw")
    everything = list(rows)
    pours = [each for each in everything if not each.why_left_out]
    records = records_of(pours)
    given = list(latest_scores(comparison).values())
    scores = _by_judge(given)
    measures = [
        Measured(criterion, stage)
        for criterion in comparison.criteria.all()
        for stage in (comparison.stages if criterion.is_scored else [None])
    ]
    results = Results(
        comparison,
        measures,
        _arms(comparison, pours),
        likeness(records, Varied(comparison.varied)),
        records,
        {str(each.pour.session_id): each.pour.session for each in everything},
        [each for each in everything if each.why_left_out],
    )
    results.counted = counted_of(pours, [arm.arm.pk for arm in results.arms], given)
    _add_means(results, scores)
    _judge(results, pours, scores)
    _add_agreements(results, pours, scores)
    return results


def _arms(comparison: Comparison, pours: Sequence[ComparedPour]) -> list[ArmResult]:
    cost = costs_of_pours(each.pour_id for each in pours)
    sessions = {each.pour.session_id for each in pours}
    in_session = dict(
        Pour.objects.filter(session__in=sessions)
        .order_by()
        .values_list("session_id")
        .annotate(pours=Count("pk"))
    )
    arms = []
    for arm in comparison.arms.all():
        mine = [each for each in pours if each.arm_id == arm.pk]
        weighed = [each.pour for each in mine if each.pour.run_off is not None and each.pour.poured]
        arms.append(
            ArmResult(
                arm,
                mine,
                sum(cost.get(each.pour_id, 0) for each in mine),
                sum(
                    (Fraction(each.pour.session.minutes, in_session[each.pour.session_id]) for each in mine),
                    Fraction(0),
                ),
                mean([Fraction(pour.run_off or 0, pour.poured) for pour in weighed]) if weighed else None,
            )
        )
    return arms


def _add_means(results: Results, scores: Scores) -> None:
    for arm in results.arms:
        for measured in results.measures:
            values = [value for each in arm.pours for value in _values(each, measured, scores).values()]
            arm.means.append(mean(values) if values else None)


def _by_judge(given: Sequence[Score]) -> Scores:
    scores: dict[tuple[int, int, str], dict[int, Fraction]] = {}
    for score in given:
        key = (score.pour_id, score.criterion_id, score.stage)
        scores.setdefault(key, {})[score.judge_id] = Fraction(score.value, 1000)
    return scores


def _values(compared: ComparedPour, measured: Measured, scores: Scores) -> Mapping[int, Fraction]:
    """A pour's scores by judge; how it turned out is one judge's (0) word."""
    if measured.stage is None:
        outcome = compared.pour.outcome
        return {} if outcome == Pour.Outcome.OPEN else {0: Fraction(outcome == Pour.Outcome.GOOD)}
    return scores.get((compared.pk, measured.criterion.pk, measured.stage.value), {})


def _judge(results: Results, pours: Sequence[ComparedPour], scores: Scores) -> None:
    """Test what is scored in full; wherever a score is missing, the criterion waits."""
    if results.likeness.fairness == Fairness.NO_COMPARISON:
        return
    held = _sessions(results, pours)
    rows: list[list[tuple[Fraction, ...]]] = []
    for measured in results.measures:
        columns = [_averaged(block, measured, scores) for block in held]
        complete = [column for column in columns if column is not None]
        if len(complete) < len(columns):
            results.waiting.append(measured)
        else:
            results.judged.append(measured)
            rows.append(complete)
    if not results.judged or not held:
        return
    blocks = [
        Block(tuple(each.arm.number - 1 for each in block), tuple(row[place] for row in rows))
        for place, block in enumerate(held)
    ]
    margins = [_margin(measured.criterion) for measured in results.judged]
    results.judgement = judge(blocks, margins, is_fair=results.is_fair)


def _sessions(results: Results, pours: Sequence[ComparedPour]) -> list[list[ComparedPour]]:
    """The pours of each session that holds every arm; all together where none does."""
    if not results.likeness.sessions:
        return [list(pours)]
    return [
        [each for each in pours if str(each.pour.session_id) == session]
        for session in results.likeness.sessions
    ]


def _averaged(
    pours: Sequence[ComparedPour], measured: Measured, scores: Scores
) -> tuple[Fraction, ...] | None:
    """A session's scores, averaged over the judges who scored all of it; words by their ranks. None without any."""
    values = [_values(each, measured, scores) for each in pours]
    judges = set.intersection(*(set(each) for each in values)) if values else set()
    if not judges:
        return None
    columns = [[each[judge] for each in values] for judge in sorted(judges)]
    if measured.criterion.scale == Scale.WORDS:
        columns = [list(midranks(column)) for column in columns]
    return tuple(mean(row) for row in zip(*columns, strict=True))


def _margin(criterion: Criterion) -> Fraction | None:
    """The difference that matters; words and outcomes have none."""
    return Fraction(criterion.margin, 1000) if criterion.scale in (Scale.POINTS, *FIGURES) else None


def _add_agreements(results: Results, pours: Sequence[ComparedPour], scores: Scores) -> None:
    """How far the judges agree over all pours, where two or more scored every one."""
    for measured in results.measures:
        if measured.stage is None or len(pours) < 2:
            continue
        values = [_values(each, measured, scores) for each in pours]
        judges = set.intersection(*(set(each) for each in values))
        if len(judges) > 1:
            agreed = agreement([[each[judge] for each in values] for judge in sorted(judges)])
            if agreed is not None:
                results.agreements.append((measured, agreed))
