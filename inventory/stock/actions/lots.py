"""The writer for what is written on a jar: opened, best before, place, batch, empty weight. Never what it holds."""

from datetime import date, datetime

from django.db import transaction

from inventory.errors import InventoryError, day_in_words
from inventory.ledger.models import Lot
from studio.accounts.models import User
from studio.auditing.edit_conflicts import refuse_stale
from studio.translation import _


@transaction.atomic
def describe_lot(
    *,
    lot: Lot,
    by: User,
    at: datetime,
    opened_on: date | None,
    best_before: date | None,
    place: str,
    supplier_batch: str,
    empty_weight: int | None,
    seen: int | None = None,
) -> Lot:
    """Write down what is known of a lot. Raises InventoryError for days that cannot be, EditConflict."""
    if opened_on is not None and opened_on < lot.received_on:
        raise InventoryError(
            _(
                "{lot} came in on {day}; it cannot have been opened before.",
                lot=lot.label,
                day=day_in_words(lot.received_on),
            )
        )
    if opened_on is not None and (opened_on - at.date()).days > 1:
        raise InventoryError(_("A lot cannot be opened in the future. Use today's date or an earlier one."))
    if empty_weight is not None and empty_weight < 0:
        raise InventoryError(_("An empty container weighs zero or more."))
    found = Lot.objects.select_for_update().get(pk=lot.pk)
    refuse_stale(found, seen=seen)
    found.opened_on, found.best_before, found.place = opened_on, best_before, place
    found.supplier_batch, found.empty_weight = supplier_batch, empty_weight
    found.save(update_fields=["opened_on", "best_before", "place", "supplier_batch", "empty_weight"])
    return found
