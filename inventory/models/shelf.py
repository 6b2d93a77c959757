"""Lots: one quantity of one material received or made at one time at one cost."""

from typing import Self

from django.db import models

from inventory.models.materials import Material
from studio.fields import one_of, whole


class LotOrigin(models.TextChoices):
    DELIVERY = "delivery", "Delivered"
    OPENING = "opening", "Opening stock"
    MIX = "mix", "Mixed"
    DECANT = "decant", "Decanted"
    COUNT = "count", "Found at a count"


class LotQuerySet(models.QuerySet["Lot"]):
    def on_shelf(self) -> Self:
        """Lots that hold something now."""
        return self.filter(balance__quantity__gt=0)


class Lot(models.Model):
    Origin = LotOrigin

    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="lots")
    origin = models.CharField(max_length=8, choices=Origin.choices)
    received_on = models.DateField()
    opened_on = models.DateField(null=True, blank=True)
    best_before = models.DateField(null=True, blank=True)
    place = models.CharField(max_length=60, blank=True, help_text="Where it stands: shelf, box, drawer.")
    supplier_batch = models.CharField(max_length=60, blank=True)
    empty_weight = models.BigIntegerField(
        null=True,
        blank=True,
        help_text="Weight of the empty container, in thousandths of a gram, for weighing what is left.",
    )
    decanted_from = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="decanted_into"
    )

    objects = LotQuerySet.as_manager()

    class Meta:
        ordering = ["received_on", "pk"]
        constraints = [one_of("lot", "origin", LotOrigin.values), *whole("lot", "empty_weight")]

    def __str__(self) -> str:
        return self.label

    @property
    def label(self) -> str:
        """What she writes on the jar."""
        return f"L{self.pk:04d}"
