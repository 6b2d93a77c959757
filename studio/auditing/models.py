"""What every room shares: the people who sign in, and the one studio's own settings."""

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy

from studio.constraints import one_of


class ChangeAction(models.TextChoices):
    ADDED = "added", gettext_lazy("Added")
    CHANGED = "changed", gettext_lazy("Changed")
    DELETED = "deleted", gettext_lazy("Deleted")


class Change(models.Model):
    """One field of one row of reference data, changed once: who, when, from what, to what. Append-only by trigger."""

    Action = ChangeAction

    at = models.DateTimeField(db_index=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        null=True,
        related_name="+",
        help_text=gettext_lazy("Empty: a command on the studio's own machine."),
    )
    kind = models.CharField(
        max_length=80, help_text=gettext_lazy("The table's name, such as inventory.material.")
    )
    row = models.CharField(max_length=40, help_text=gettext_lazy("The row's number in its table."))
    name = models.CharField(max_length=200, help_text=gettext_lazy("What the row was called then."))
    action = models.CharField(max_length=8, choices=ChangeAction.choices)
    field = models.CharField(max_length=80, blank=True)
    old = models.TextField(blank=True)
    new = models.TextField(blank=True)

    class Meta:
        ordering = ["-pk"]
        indexes = [models.Index(fields=["kind", "row"], name="change_kind_row")]
        constraints = [one_of("change", "action", ChangeAction.values)]

    def __str__(self) -> str:
        return f"{self.kind} {self.row}: {self.field or self.action}"
