"""The writer of scores. A score is a fact: another one for the same pour comes after it, and both stay visible."""

from collections.abc import Mapping

from inventory.comparisons.actions.comparisons import refuse_finished
from inventory.comparisons.models import FIGURES, ComparedPour, Criterion, Scale, Score
from inventory.comparisons.queries.progress import latest_scores
from inventory.errors import InventoryError
from inventory.sessions.models import Stage
from studio.accounts.models import User
from studio.auditing.writing import create_all
from studio.constraints import LARGEST
from studio.errors import InputError
from studio.submission import Submission, transaction
from studio.translation import _


def record_scores(
    *,
    compared: ComparedPour,
    stage: str,
    judge: User,
    values: Mapping[Criterion, int],
    submission: Submission,
) -> list[Score]:
    """Record one judge's scores of one pour, in thousandths by criterion. What is scored the same already stays.

    Raises InputError naming the criterion for a score that its scale does not have, InventoryError for a finished
    comparison, a stage in which it is not judged, somebody who is not its judge, and a pour that was left out.
    """
    comparison = compared.comparison
    with transaction(submission):
        refuse_finished(comparison)
        refuse_no_judging(compared, stage, judge)
        earlier = latest_scores(comparison, pours=[compared.pk])
        scores = []
        for criterion, value in values.items():
            _refuse_off_scale(criterion, value)
            score = earlier.get((compared.pk, criterion.pk, stage, judge.pk))
            if score is None or score.value != value:
                scores.append(
                    Score(
                        pour=compared,
                        criterion=criterion,
                        stage=Stage(stage),
                        judge=judge,
                        value=value,
                        recorded_at=submission.at,
                        recorded_by=submission.by,
                    )
                )
        return create_all(scores)


def refuse_no_judging(compared: ComparedPour, stage: str, judge: User) -> None:
    """Raise InventoryError where this judge does not score this pour now."""
    if stage not in compared.comparison.stages:
        raise InventoryError(_("These pours are not judged then. Choose wet or dry."))
    if not compared.comparison.judges.filter(pk=judge.pk).exists():
        raise InventoryError(_("{person} is not a judge of this comparison.", person=judge))
    if compared.left_out:
        raise InventoryError(_("This pour was left out. Take it in again before scoring it."))


def _refuse_off_scale(criterion: Criterion, value: int) -> None:
    field = f"criterion_{criterion.pk}"
    if criterion.scale == Scale.OUTCOME:
        raise InputError(_("How the pour turned out is recorded on the pour itself."), field=field)
    if criterion.scale in FIGURES:
        if not -LARGEST <= value <= LARGEST:
            raise InputError(_("That number is too large. Check the amounts."), field=field)
        if criterion.is_on_photo and value < 0:
            raise InputError(_("{criterion}: this cannot be below zero.", criterion=criterion), field=field)
    elif value not in dict(criterion.choices):
        raise InputError(
            _("{criterion}: choose one of the scores on its scale.", criterion=criterion), field=field
        )
