"""The writer for what is written on a jar: opened, best before, place, batch, empty weight. Never what it holds."""

from inventory.errors import InventoryError, day_in_words
from inventory.ledger.models import Lot
from studio.auditing.reference_rows import locked
from studio.submission import Submission, transaction
from studio.translation import _

DESCRIPTION = ("opened_on", "best_before", "place", "supplier_batch", "empty_weight")


def describe_lot(lot: Lot, *, submission: Submission, seen: int | None = None) -> Lot:
    """Write down what is known of a lot. Raises InventoryError for days that cannot be, EditConflict."""
    opened = lot.opened_on
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
    if lot.empty_weight is not None and lot.empty_weight < 0:
        raise InventoryError(_("An empty container weighs zero or more."))
    with transaction(submission):
        locked(lot, seen=seen)
        lot.save(update_fields=DESCRIPTION)
        return lot
