"""The seals of the change log."""

from django.db import models
from django.db.models import Q

from studio.translation import _


class ChangeSeal(models.Model):
    """One link of the change log's chain: what one transaction wrote into the log, hashed with the link before.

    `entries` are the numbers of its entries. Rows are added in order, and never changed or deleted.
    """

    number = models.PositiveBigIntegerField(primary_key=True)
    entries = models.JSONField()
    hash = models.CharField(max_length=64)

    class Meta:
        ordering = ["number"]
        constraints = [
            models.CheckConstraint(condition=Q(number__gt=0) & ~Q(hash=""), name="changeseal_sensible")
        ]

    def __str__(self) -> str:
        return _("Seal {number} of the change log", number=self.pk)
