"""Reorder alerts, and how far their emails have come."""

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy

from inventory.materials.models import Material
from studio.constraints import whole
from studio.translation import _


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
