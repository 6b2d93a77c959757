"""What past use comes to, kept for a day; reorder alerts, and how far their emails have come."""

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy

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


class Alert(models.Model):
    """A material fell to its reorder level. At most one is open per material; it clears by itself."""

    material = models.ForeignKey(Material, on_delete=models.CASCADE, related_name="alerts")
    raised_at = models.DateTimeField()
    cleared_at = models.DateTimeField(null=True, blank=True)
    claimed_at = models.DateTimeField(
        null=True,
        blank=True,
        help_text=gettext_lazy("When a run claimed it for mailing; alerts in one email share this time."),
    )
    mailed_at = models.DateTimeField(null=True, blank=True)
    stock = models.BigIntegerField()
    on_order = models.BigIntegerField()
    level = models.BigIntegerField()
    reason = models.CharField(max_length=300, help_text=gettext_lazy("Where the level comes from."))

    class Meta:
        ordering = ["-raised_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["material"], condition=Q(cleared_at__isnull=True), name="alert_one_open"
            ),
            *whole("alert", "stock", "on_order", "level"),
        ]

    def __str__(self) -> str:
        return _("Alert {number}", number=self.pk)


class AlertMail(models.Model):
    """An alert on its way to one address: taken there, or why not."""

    alert = models.ForeignKey(Alert, on_delete=models.PROTECT, related_name="mails")
    address = models.EmailField()
    tried_at = models.DateTimeField()
    problem = models.CharField(
        max_length=300, blank=True, help_text=gettext_lazy("What went wrong last time. Blank: delivered.")
    )

    class Meta:
        ordering = ["alert", "address"]
        constraints = [models.UniqueConstraint(fields=["alert", "address"], name="alertmail_address_once")]

    def __str__(self) -> str:
        return self.address
