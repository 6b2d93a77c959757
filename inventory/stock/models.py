"""Stocktakes."""

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy

from inventory.ledger.keyed_records import KeyedRecord
from inventory.ledger.models import Lot, Posting
from studio.constraints import whole
from studio.translation import _


class Stocktake(KeyedRecord):
    """Counts against what the books expected, posted."""

    counted_on = models.DateField()
    notes = models.TextField(blank=True)
    posting = models.OneToOneField(
        Posting, on_delete=models.PROTECT, null=True, blank=True, related_name="stocktake"
    )

    class Meta(KeyedRecord.Meta):
        ordering = ["-counted_on", "-pk"]

    def __str__(self) -> str:
        return _("Stocktake {number}", number=self.pk)


class StocktakeLine(models.Model):
    stocktake = models.ForeignKey(Stocktake, on_delete=models.PROTECT, related_name="lines")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="counts")
    expected = models.BigIntegerField()
    counted = models.BigIntegerField()
    how = models.CharField(
        max_length=120, blank=True, help_text=gettext_lazy("Measured or weighed, with the figures.")
    )

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["stocktake", "lot"], name="stocktakeline_lot_once"),
            models.CheckConstraint(
                condition=Q(counted__gte=0, expected__gte=0), name="stocktakeline_sensible"
            ),
            *whole("stocktakeline", "expected", "counted"),
        ]

    def __str__(self) -> str:
        return _("Stocktake line {number}", number=self.pk)

    @property
    def difference(self) -> int:
        """Above zero when there was more than the books say."""
        return self.counted - self.expected
