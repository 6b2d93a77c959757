"""Consignments: numbered notes of pieces given to a gallery on sale or return. They stay hers until they are sold."""

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy

from costing.locations.models import Location, Placement
from inventory.ledger.keyed_records import KeyedRecord
from studio.constraints import whole
from studio.translation import _


class Consignment(KeyedRecord):
    """What a gallery was given on a day, until a day or without one. What it keeps, its sales channel's terms say."""

    number = models.PositiveIntegerField(unique=True)
    gallery = models.ForeignKey(Location, on_delete=models.PROTECT, related_name="consignments")
    on = models.DateField()
    until = models.DateField(null=True, blank=True)
    note = models.TextField(max_length=1000, blank=True)
    recorded_at = models.DateTimeField()

    class Meta:
        ordering = ["-number"]
        constraints = [
            *KeyedRecord.Meta.constraints,
            models.CheckConstraint(
                condition=Q(until__isnull=True) | Q(until__gte=F("on")), name="consignment_days_in_order"
            ),
        ]

    def __str__(self) -> str:
        return _("Consignment note {number}", number=self.number)


class ConsignmentLine(models.Model):
    """One piece of a note: the placement by which it came to the gallery, and what was to be asked for it."""

    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="lines")
    placement = models.OneToOneField(Placement, on_delete=models.PROTECT, related_name="consignment_line")
    price = models.BigIntegerField(help_text=gettext_lazy("Asking price, tax included."))

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=Q(price__gt=0), name="consignmentline_has_a_price"),
            *whole("consignmentline", "price"),
        ]

    def __str__(self) -> str:
        return f"{self.consignment_id}: {self.placement_id}"
