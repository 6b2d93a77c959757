"""The list of backups."""

from django.template.defaultfilters import filesizeformat
from django.urls import reverse
from django.utils.translation import gettext_lazy as _

from studio.backups.models import Backup
from studio.pages.columns import Column, MomentColumn
from studio.pages.tables import Table


class BackupTable(Table[Backup]):
    caption = _("Backups, newest first")
    columns = (
        MomentColumn("made", _("Made"), lambda row: row.made_at),
        Column(
            "file",
            _("File"),
            lambda row: row.name,
            link=lambda row: reverse("backup-download", args=[row.pk]) if row.can_be_downloaded else "",
        ),
        Column(
            "result",
            _("Result"),
            lambda row: "",
            badge=lambda row: ("good", _("Good")) if row.ok else ("stop", _("Failed")),
            note=lambda row: row.note,
        ),
        Column("size", _("Size"), lambda row: filesizeformat(row.size) if row.ok else "", css="number"),
    )
