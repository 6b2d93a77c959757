"""The attempts at a backup."""

from pathlib import Path

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy

from studio.constraints import whole


class Backup(models.Model):
    """One attempt at a backup, good or not."""

    made_at = models.DateTimeField(db_index=True)
    path = models.CharField(max_length=1000)
    size = models.BigIntegerField(default=0, help_text=gettext_lazy("Bytes."))
    sha256 = models.CharField(max_length=64, blank=True)
    ok = models.BooleanField()
    note = models.CharField(max_length=1000, blank=True)

    class Meta:
        ordering = ["-made_at", "-pk"]
        constraints = whole("backup", "size")

    def __str__(self) -> str:
        return self.name

    @property
    def name(self) -> str:
        return Path(self.path).name

    @property
    def can_be_downloaded(self) -> bool:
        """Whether it is good, and its file still in the studio's own folder of backups."""
        file = Path(self.path)
        return self.ok and file.parent == Path(settings.BACKUPS).resolve() and file.is_file()
