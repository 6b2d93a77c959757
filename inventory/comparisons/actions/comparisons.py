"""Writers of comparisons: started, given pours, finished; discarded while nothing was scored."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import time
from random import SystemRandom

from inventory.comparisons.actions.comparison_facts import ComparisonFacts, reversed_refusal
from inventory.comparisons.calculations.blinding import codes, scoring_order
from inventory.comparisons.models import ComparedPour, Comparison, ComparisonArm, Criterion, Score
from inventory.comparisons.queries.progress import missing_scores
from inventory.errors import InventoryError
from inventory.ledger.posting import open_ledger
from inventory.sessions.models import Pour, Stage
from studio.auditing.edit_conflicts import lock_row
from studio.auditing.writing import change_all, create_all
from studio.submission import Submission, transaction
from studio.translation import _, ngettext


@dataclass(frozen=True, slots=True)
class Placement:
    """One pour in one arm, with what its session does not record. `left_out` says why it is not judged."""

    arm: ComparisonArm
    pour: Pour
    hands: str = ""
    colour_order: str = ""
    left_out: str = ""
    poured_at: time | None = None


def start_comparison(*, facts: ComparisonFacts, submission: Submission) -> Comparison:
    """Write a comparison with its arms, criteria, judges and first pours; draw codes where it is blind."""
    with open_ledger(submission, facts=facts) as ledger:
        earlier = ledger.earlier_record(Comparison)
        if earlier is not None:
            return earlier
        comparison = Comparison.objects.create(
            name=facts.name.strip(),
            varied=facts.varied,
            judged=facts.judged,
            is_blind=facts.is_blind,
            notes=facts.notes,
            started_on=submission.on,
            recorded_by=submission.by,
            key=submission.key,
            fingerprint=ledger.fingerprint,
        )
        comparison.judges.set(facts.judges)
        create_all(
            Criterion(
                comparison=comparison,
                number=number,
                name=each.name.strip(),
                scale=each.scale,
                lowest=each.lowest,
                highest=each.highest,
                words="\n".join(each.words),
                unit=each.unit,
                low_is_better=each.low_is_better,
                margin=each.least_difference,
            )
            for number, each in enumerate(facts.criteria, start=1)
        )
        _write_arms(comparison, facts)
        _draw_lots(comparison)
        return comparison


def _write_arms(comparison: Comparison, facts: ComparisonFacts) -> None:
    compared = []
    for number, each in enumerate(facts.arms, start=1):
        arm = ComparisonArm.objects.create(comparison=comparison, number=number, name=each.name.strip())
        compared += [ComparedPour(comparison=comparison, arm=arm, pour=pour) for pour in each.pours]
    # In any order: the numbers of the rows must not give the arms of a blind comparison away.
    SystemRandom().shuffle(compared)
    create_all(compared)


def place_pours(
    *, comparison: Comparison, placements: Sequence[Placement], submission: Submission
) -> Comparison:
    """Put pours into arms, or change what is noted of those that are there.

    Raises InventoryError for a finished comparison, pours of a reversed session, and for a pour that would change
    its arm after it was scored, or that is named twice. No pour is taken out again: it is left out for a reason, which
    the report names.
    """
    with transaction(submission):
        refuse_finished(comparison)
        named = Counter(each.pour for each in placements)
        if twice := [pour for pour, times in named.items() if times > 1]:
            raise InventoryError(_("{pour} is named twice. Give each pour one place.", pour=twice[0]))
        gone = [each.pour for each in placements if hasattr(each.pour.session.posting, "reversed_by")]
        if gone:
            raise InventoryError(reversed_refusal(gone))
        known = {each.pour_id: each for each in comparison.pours.select_related("arm", "pour")}
        for each in placements:
            compared = known.get(each.pour.pk) or ComparedPour(comparison=comparison, pour=each.pour)
            if compared.pk and compared.arm_id != each.arm.pk and compared.scores.exists():
                raise InventoryError(
                    _("{pour} has been scored, so it stays in its arm. Leave it out instead.", pour=each.pour)
                )
            compared.arm, compared.left_out = each.arm, each.left_out.strip()
            compared.hands, compared.colour_order = each.hands.strip(), each.colour_order.strip()
            compared.poured_at = each.poured_at
            compared.save()
        _draw_lots(comparison)
    return comparison


def finish(*, comparison: Comparison, submission: Submission, despite_missing: bool = False) -> Comparison:
    """End the scoring and open the codes. Raises InventoryError where scores are missing, unless it is to end so."""
    with transaction(submission):
        refuse_finished(comparison)
        missing = len(missing_scores(comparison))
        if missing and not despite_missing:
            raise InventoryError(
                ngettext(
                    "{n} score is missing. Enter it, or confirm that you want to finish without it.",
                    "{n} scores are missing. Enter them, or confirm that you want to finish without them.",
                    missing,
                    n=missing,
                )
            )
        comparison.finished_at = submission.at
        comparison.save(update_fields=["finished_at"])
    return comparison


def open_arms(*, comparison: Comparison, submission: Submission) -> Comparison:
    """Show the arms of a blind comparison before its end, on purpose: who did and when is kept, and reported.

    Raises InventoryError where there is nothing to open.
    """
    with transaction(submission):
        refuse_finished(comparison)
        if not Comparison.objects.hiding_arms().filter(pk=comparison.pk).exists():
            raise InventoryError(_("The arms of this comparison are not hidden."))
        comparison.opened_at, comparison.opened_by = submission.at, submission.by
        comparison.save(update_fields=["opened_at", "opened_by"])
    return comparison


def discard(*, comparison: Comparison, submission: Submission) -> None:
    """Delete a comparison in which nothing was scored. Its pours stay as they are."""
    with transaction(submission):
        lock_row(comparison)
        if Score.objects.filter(pour__comparison=comparison).exists():
            raise InventoryError(_("It has scores, so it cannot be deleted. Finish it instead."))
        comparison.delete()


def refuse_finished(comparison: Comparison) -> None:
    """Hold the comparison until the transaction ends, and refuse a finished one."""
    lock_row(comparison)
    if Comparison.objects.filter(pk=comparison.pk, finished_at__isnull=False).exists():
        raise InventoryError(_("This comparison is finished. Start another one to go on."))


def _draw_lots(comparison: Comparison) -> None:
    """Give new pours of a blind comparison their codes, and draw the order of scoring anew."""
    lot = SystemRandom()
    pours = list(comparison.pours.select_related("arm"))
    if comparison.is_blind:
        taken = [code for each in pours for code in (each.wet_code, each.dry_code) if code]
        new = [each for each in pours if not each.wet_code]
        drawn = codes(2 * len(new), lot, taken=taken)
        for each, wet, dry in zip(new, drawn[::2], drawn[1::2], strict=True):
            each.wet_code, each.dry_code = wet, dry
    for stage in Stage:
        for turn, place in enumerate(scoring_order([each.arm.number for each in pours], lot), start=1):
            setattr(pours[place], f"{stage.value}_turn", turn)
    change_all(pours, "wet_code", "dry_code", "wet_turn", "dry_turn")
