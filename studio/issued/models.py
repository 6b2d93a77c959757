"""Papers as they were issued: what stood on them, whatever is changed afterwards."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from studio.translation import _


class IssuedPaper(models.Model):
    """A paper that went to somebody: of which kind, about which row, the how many-th version, and its contents.

    Rows are never changed or deleted; only `addressee`, the one part that names a person, is emptied when that contact
    is erased. A logo is not kept: the studio's own of the day is printed.
    """

    kind = models.CharField(max_length=20)
    about = models.PositiveBigIntegerField()
    version = models.PositiveIntegerField()
    title = models.CharField(max_length=300)
    issued_at = models.DateTimeField()
    contents = models.JSONField()
    addressee = models.JSONField(default=list, blank=True)
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.UniqueConstraint(fields=["kind", "about", "version"], name="issuedpaper_version_once"),
            models.CheckConstraint(condition=Q(version__gt=0) & ~Q(kind=""), name="issuedpaper_sensible"),
        ]

    def __str__(self) -> str:
        return _("Issued document {number}", number=self.pk)
