"""Lots: one quantity of one material received or made at one time at one cost."""

from typing import Self

from django.db import models
from django.utils.translation import gettext_lazy

from inventory.models.materials import Material
from studio.fields import one_of, whole


class LotOrigin(models.TextChoices):
    DELIVERY = "delivery", gettext_lazy("Delivered")
    OPENING = "opening", gettext_lazy("Opening stock")
    MIX = "mix", gettext_lazy("Mixed")
    DECANT = "decant", gettext_lazy("Decanted")
    COUNT = "count", gettext_lazy("Found at a count")


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
    place = models.CharField(
        max_length=60, blank=True, help_text=gettext_lazy("Where it stands: shelf, box, drawer.")
    )
    supplier_batch = models.CharField(max_length=60, blank=True)
    empty_weight = models.BigIntegerField(
        null=True,
        blank=True,
        help_text=gettext_lazy(
            "Weight of the empty container, in thousandths of a gram, for weighing what is left."
        ),
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


class MonthEnd(models.Model):
    """What one lot held at the end of a month, kept so that stock on a past day need not be summed from the start.

    Money is in millionths. It sums the entries of postings up to number `through` whose own date is no later than
    `day`: since those never change, neither does it, and whatever was posted later is added by whoever reads it.
    """

    day = models.DateField()
    lot = models.ForeignKey(Lot, on_delete=models.CASCADE, related_name="+")
    quantity = models.BigIntegerField()
    money = models.BigIntegerField()
    through = models.BigIntegerField()

    class Meta:
        ordering = ["day", "lot"]
        constraints = [
            models.UniqueConstraint(fields=["day", "lot"], name="month_end_once"),
            *whole("month_end", "quantity", "money", "through"),
        ]

    def __str__(self) -> str:
        return f"{self.lot_id} on {self.day}"
