"""The writer of judgements: how pours turned out, wet and again dry. A later one comes after it; all stay visible."""

from collections.abc import Sequence
from dataclasses import dataclass

from inventory.errors import InventoryError
from inventory.ledger.posting import open_ledger
from inventory.sessions.actions.pours import refuse_outcome
from inventory.sessions.models import Flaw, JudgedFlaw, Pour, PourJudgement, Stage
from studio.auditing.writing import create_all
from studio.errors import InputError
from studio.submission import Submission
from studio.translation import _


@dataclass(frozen=True, slots=True)
class JudgementFacts:
    """How one pour turned out at one stage, with any number of flaws. Raises InputError naming the field."""

    pour: Pour
    outcome: str
    stage: str = Stage.WET
    flaws: Sequence[Flaw] = ()
    notes: str = ""

    def __post_init__(self) -> None:
        if self.outcome not in Pour.Outcome.values or self.outcome == Pour.Outcome.OPEN:
            raise InputError(_("Choose whether the pour is good, a second or failed."), field="outcome")
        if self.stage not in Stage.values:
            raise InputError(_("Choose whether you judge it wet or dry."), field="stage")


def judge_pours(*, judgements: Sequence[JudgementFacts], submission: Submission) -> list[PourJudgement]:
    """Record how pours turned out; each pour's outcome is then its latest dry judgement, or else its latest wet one.

    What was judged the same already stays as it is. Raises InventoryError for a pour of a reversed session and for
    an outcome that what happened since rules out. No paint and no money moves.
    """
    with open_ledger(submission):
        return [written for each in judgements if (written := _judge(each, submission)) is not None]


def judge_when_logged(pours: Sequence[Pour], submission: Submission) -> None:
    """Pours that a session says turned out somehow were judged wet on its day."""
    create_all(
        PourJudgement(
            pour=pour,
            stage=Stage.WET,
            outcome=pour.outcome,
            judged_on=pour.session.held_on,
            recorded_at=submission.at,
            recorded_by=submission.by,
        )
        for pour in pours
        if pour.outcome != Pour.Outcome.OPEN
    )


def judge_when_corrected(pour: Pour, outcome: str, submission: Submission) -> None:
    """A correction of its session that says how a pour turned out judges it anew, at the stage it was judged last."""
    if outcome in (Pour.Outcome.OPEN, pour.outcome):
        return
    latest = pour.judgements.last()
    _judge(JudgementFacts(pour, outcome, latest.stage if latest else Stage.WET), submission)
    pour.refresh_from_db(fields=["outcome"])


def _judge(facts: JudgementFacts, submission: Submission) -> PourJudgement | None:
    pour = (
        Pour.objects.select_for_update(of=("self",)).select_related("session__posting").get(pk=facts.pour.pk)
    )
    if hasattr(pour.session.posting, "reversed_by"):
        raise InventoryError(
            _("The session of {pour} was reversed. Log it again and change that pour.", pour=pour.label)
        )
    before = list(pour.judgements.prefetch_related("judged_flaws__flaw"))
    latest = next((each for each in reversed(before) if each.stage == facts.stage), None)
    flaws = sorted({flaw.pk for flaw in facts.flaws})
    if latest is not None and _same(latest, facts, flaws):
        return None
    dry = facts.stage == Stage.DRY or not any(each.stage == Stage.DRY for each in before)
    refuse_outcome(pour, facts.outcome if dry else pour.outcome)
    judgement = PourJudgement.objects.create(
        pour=pour,
        stage=facts.stage,
        outcome=facts.outcome,
        notes=facts.notes,
        judged_on=submission.on,
        recorded_at=submission.at,
        recorded_by=submission.by,
    )
    create_all(JudgedFlaw(judgement=judgement, flaw_id=flaw) for flaw in flaws)
    if dry and pour.outcome != facts.outcome:
        pour.outcome = facts.outcome
        pour.save(update_fields=["outcome"])
    return judgement


def _same(latest: PourJudgement, facts: JudgementFacts, flaws: list[int]) -> bool:
    held = sorted(each.flaw_id for each in latest.judged_flaws.all())
    return (latest.outcome, latest.notes, held) == (facts.outcome, facts.notes, flaws)
