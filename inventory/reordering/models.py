"""What past use comes to, kept for a day."""

from django.db import models
from django.db.models import Q

from inventory.materials.models import Material
from studio.constraints import whole
from studio.translation import _

OF_USE = ["mean", "variance", "per_day", "largest_usual", "use_days"]


class KeptUse(models.Model):
    """What a material's use comes to at the end of a day, so that it is not worked out anew at every posting.

    It counts for the lead time and the guess of its fingerprint only, and falls when the ledger changes what was on
    that day or before. Without a level of its own, `mean` is blank and so is whatever belongs to it.
    """

    material = models.OneToOneField(
        Material, on_delete=models.CASCADE, primary_key=True, related_name="kept_use"
    )
    day = models.DateField()
    fingerprint = models.CharField(max_length=16)
    history_days = models.PositiveIntegerField()
    is_recent = models.BooleanField()
    mean = models.FloatField(null=True)
    variance = models.FloatField(null=True)
    per_day = models.FloatField(null=True)
    largest_usual = models.BigIntegerField(null=True)
    use_days = models.PositiveIntegerField(null=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(**dict.fromkeys([f"{name}__isnull" for name in OF_USE], True))
                | Q(**dict.fromkeys([f"{name}__isnull" for name in OF_USE], False)),
                name="keptuse_all_or_nothing",
            ),
            *whole("keptuse", "largest_usual"),
        ]

    def __str__(self) -> str:
        return _("Use of {material} to {day}", material=self.material_id, day=self.day)
