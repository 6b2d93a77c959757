"""The list of backups."""

from dataclasses import dataclass

from django.template.defaultfilters import filesizeformat
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext_lazy as _

from studio.backups.models import Backup
from studio.pages.columns import Column
from studio.pages.tables import Table


@dataclass(frozen=True, slots=True)
class BackupRow:
    """One attempt at a backup, and whether its file can be fetched."""

    backup: Backup
    can_fetch: bool


class BackupTable(Table[BackupRow]):
    caption = _("Backups, newest first")
    columns = (
        Column(
            "made", _("Made"), lambda row: date_format(timezone.localtime(row.backup.made_at), "j M Y, H:i")
        ),
        Column(
            "file",
            _("File"),
            lambda row: row.backup.name,
            link=lambda row: reverse("backup-download", args=[row.backup.pk]) if row.can_fetch else "",
        ),
        Column(
            "result",
            _("Result"),
            lambda row: "",
            badge=lambda row: ("good", _("Good")) if row.backup.ok else ("stop", _("Failed")),
            note=lambda row: row.backup.note,
        ),
        Column(
            "size",
            _("Size"),
            lambda row: filesizeformat(row.backup.size) if row.backup.ok else "",
            css="number",
        ),
    )
