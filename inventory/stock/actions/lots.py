"""The writer for what is written on a jar: opened, best before, place, batch, empty weight. Never what it holds."""

from dataclasses import dataclass
from datetime import date

from inventory.errors import InventoryError, day_in_words
from inventory.ledger.models import Lot
from studio.auditing.edit_conflicts import refuse_stale
from studio.submission import Submission, transaction
from studio.translation import _


@dataclass(frozen=True, slots=True)
class LotDescription:
    """What is written on a jar. The weight of the empty container is in thousandths of a gram."""

    opened_on: date | None
    best_before: date | None
    place: str
    supplier_batch: str
    empty_weight: int | None


def describe_lot(*, lot: Lot, facts: LotDescription, submission: Submission, seen: int | None = None) -> Lot:
    """Write down what is known of a lot. Raises InventoryError for days that cannot be, EditConflict."""
    opened = facts.opened_on
    if opened is not None and opened < lot.received_on:
        raise InventoryError(
            _(
                "{lot} came in on {day}; it cannot have been opened before that.",
                lot=lot.label,
                day=day_in_words(lot.received_on),
            )
        )
    if opened is not None and (opened - submission.at.date()).days > 1:
        raise InventoryError(_("A lot cannot be opened in the future. Use today's date or an earlier one."))
    if facts.empty_weight is not None and facts.empty_weight < 0:
        raise InventoryError(_("An empty container weighs zero or more."))
    with transaction(submission):
        row = Lot.objects.select_for_update().get(pk=lot.pk)
        refuse_stale(row, seen=seen)
        row.opened_on, row.best_before, row.place = opened, facts.best_before, facts.place
        row.supplier_batch, row.empty_weight = facts.supplier_batch, facts.empty_weight
        row.save(update_fields=["opened_on", "best_before", "place", "supplier_batch", "empty_weight"])
        return row
