"""Price lists as they were printed for somebody: what stood on them, so that it can be seen what has changed since."""

from django.db import models

from inventory.ledger.keyed_records import KeyedRecord
from studio.translation import _


class PrintedList(KeyedRecord):
    """A price list that was handed out or hung up. `prices` are millionths by the piece's number, as printed.

    Rows are never changed or deleted: a later list is another row.
    """

    on = models.DateField()
    place = models.CharField(max_length=80, blank=True)
    printed_at = models.DateTimeField()
    prices = models.JSONField()

    class Meta:
        ordering = ["-pk"]
        constraints = [*KeyedRecord.Meta.constraints]

    def __str__(self) -> str:
        return _("Price list {number}", number=self.pk)
