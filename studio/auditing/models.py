"""The seals of what is written."""

from django.db import models
from django.db.models import Q

from studio.translation import _


class ChangeSeal(models.Model):
    """One link of the chain: which rows one transaction wrote, with their digests, hashed with the link before.

    `rows` are digests by table and number, none of a row that is gone. Seals are added in order, and never changed or
    deleted.
    """

    number = models.PositiveBigIntegerField(primary_key=True)
    rows = models.JSONField()
    hash = models.CharField(max_length=64)

    class Meta:
        ordering = ["number"]
        constraints = [
            models.CheckConstraint(condition=Q(number__gt=0) & ~Q(hash=""), name="changeseal_sensible")
        ]

    def __str__(self) -> str:
        return _("Seal {number} of the change log", number=self.pk)
