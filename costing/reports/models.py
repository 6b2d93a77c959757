"""What stands below its cost: an item of stock that will not bring what it cost. Money is millionths."""

from django.db import models
from django.db.models import F, Q

from costing.pieces.models import Piece
from inventory.ledger.keyed_records import KeyedRecord
from inventory.ledger.models import Lot
from studio.constraints import whole
from studio.translation import _


class WriteDown(KeyedRecord):
    """From a day on, an item stands this much below its cost; the item's latest row holds, and zero ends it.

    It changes no cost in the ledger: it is taken off what the item stands at in a year end, never more than the item
    still holds, and ends when the item is used up or sold. Rows are never changed or deleted.
    """

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, null=True, blank=True, related_name="write_downs")
    piece = models.ForeignKey(
        Piece, on_delete=models.PROTECT, null=True, blank=True, related_name="write_downs"
    )
    on = models.DateField()
    cost = models.BigIntegerField()
    value = models.BigIntegerField()
    amount = models.BigIntegerField()
    note = models.CharField(max_length=200, blank=True)
    recorded_at = models.DateTimeField()

    class Meta:
        ordering = ["on", "pk"]
        constraints = [
            # Of several items that one submission writes down each has its key.
            *(
                models.UniqueConstraint(
                    fields=["recorded_by", "key", item],
                    condition=~Q(key="") & Q(**{f"{item}__isnull": False}),
                    name=f"writedown_key_once_{item}",
                )
                for item in ("lot", "piece")
            ),
            models.CheckConstraint(
                condition=Q(lot__isnull=True, piece__isnull=False) | Q(lot__isnull=False, piece__isnull=True),
                name="writedown_of_one_item",
            ),
            models.CheckConstraint(
                condition=Q(cost__gte=0, value__gte=0, amount__gte=0, amount__lte=F("cost")),
                name="writedown_never_above_cost",
            ),
            *whole("writedown", "cost", "value", "amount"),
        ]

    def __str__(self) -> str:
        return _("Write-down {number}", number=self.pk)
