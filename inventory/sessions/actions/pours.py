"""The writer for what is learnt about a pour after its session: what ran off, what to remember."""

from collections.abc import Callable

from inventory.errors import InventoryError
from inventory.ledger.models import Entry, Place
from inventory.ledger.posting import open_ledger
from inventory.sessions.models import Pour
from studio.auditing.edit_conflicts import refuse_stale
from studio.submission import Submission
from studio.translation import _
from studio.values.quantities import format_quantity
from studio.values.units import Measure

Guard = Callable[[Pour, str], str]

_guards: list[Guard] = []


def register_guard(guard: Guard) -> None:
    """Ask this guard before a pour's outcome is amended: it answers with what stands in the way, or with nothing."""
    if guard not in _guards:
        _guards.append(guard)


def mark_outcome(pour: Pour, outcome: str) -> None:
    """Let a pour's outcome follow what became of it. Within the transaction of whoever says so."""
    if pour.outcome != outcome:
        pour.outcome = outcome
        pour.save(update_fields=["outcome"])


def amend_pour(
    *, pour: Pour, run_off: int | None, notes: str, submission: Submission, seen: int | None = None
) -> Pour:
    """Set a pour's run-off (thousandths of a mL) and notes.

    Raises InventoryError for run-off above what was poured and for a pour whose session was reversed; and
    EditConflict. No paint and no money moves.
    """
    with open_ledger(submission):
        rows = Pour.objects.select_for_update(of=("self",)).select_related("session__posting")
        pour = rows.get(pk=pour.pk)
        refuse_stale(pour, seen=seen)
        _refuse_nonsense(pour, run_off)
        if (run_off, notes) != (pour.run_off, pour.notes):
            pour.run_off, pour.notes = run_off, notes
            pour.save(update_fields=["run_off", "notes"])
        return pour


def _refuse_nonsense(pour: Pour, run_off: int | None) -> None:
    if hasattr(pour.session.posting, "reversed_by"):
        raise InventoryError(
            _("The session of {pour} was reversed. Log it again and change that pour.", pour=pour.label)
        )
    if run_off is not None and not 0 <= run_off <= pour.poured:
        poured = format_quantity(pour.poured, Measure.VOLUME)
        raise InventoryError(
            _("Run-off is part of what was poured, so it cannot be more than {poured}.", poured=poured)
        )


def refuse_outcome(pour: Pour, outcome: str) -> None:
    """Raise InventoryError for an outcome that what happened to the pour since rules out."""
    if outcome == pour.outcome:
        return
    thrown = Pour.objects.with_thrown_away().get(pk=pour.pk).thrown_away_by
    if thrown is not None:
        raise InventoryError(
            _(
                "{pour} was thrown away. Reverse that first (ledger no. {number}).",
                pour=pour.label,
                number=thrown,
            )
        )
    above = Pour.objects.standing().filter(over=pour).first()
    if outcome != Pour.Outcome.FAILED and above is not None:
        raise InventoryError(
            _(
                "{pour} lies under {above}, so it stays marked as failed. Judge {above} instead.",
                pour=pour.label,
                above=above.label,
            )
        )
    sold = Entry.objects.filter(pour=pour, place=Place.SOLD, posting__reversed_by__isnull=True)
    if outcome == Pour.Outcome.FAILED and sold.filter(posting__reverses__isnull=True).exists():
        raise InventoryError(
            _("{pour} has been sold. Record its return before marking it as failed.", pour=pour.label)
        )
    if reason := next((reason for guard in _guards if (reason := guard(pour, outcome))), ""):
        raise InventoryError(reason)
