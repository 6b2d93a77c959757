"""Backups, for the owner: list, make and fetch them."""

from pathlib import Path

from django.conf import settings
from django.contrib import messages
from django.db import connection
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from studio.accounts import security_log as security
from studio.accounts.roles import OWNER_ONLY, role_required
from studio.backups.actions import backup_into, last_good_backup
from studio.backups.archive import BackupError
from studio.backups.models import Backup
from studio.backups.tables import BackupTable
from studio.operations.checks import LARGEST_LOG, large_log
from studio.pages.tables import list_page, page_of
from studio.translation import _

PAGE = 50


@require_safe
@role_required(*OWNER_ONLY)
def backups(request: HttpRequest) -> HttpResponse:
    """Every attempt at a backup, newest first, and when the last good one was."""
    page_obj = page_of(request, Backup.objects.all(), PAGE)
    context = {
        "title": _("Backups"),
        "lead": _("Your data and photos in one file, verified before it is accepted."),
        "page_obj": page_obj,
        "last_good": last_good_backup(),
        "kept": settings.BACKUPS_KEPT,
        "large_log": large_log(connection),
        "largest_log": LARGEST_LOG,
    }
    return list_page(request, "backups/list.html", BackupTable(page_obj, request), context)


@require_POST
@role_required(*OWNER_ONLY)
def backup_now(request: HttpRequest) -> HttpResponse:
    """Make a backup while everybody works on."""
    try:
        made = backup_into(Path(settings.BACKUPS), at=timezone.now(), keep=settings.BACKUPS_KEPT)
    except BackupError as problem:
        messages.error(request, _("No backup was made. {problem}", problem=problem))
    else:
        messages.success(
            request,
            _("Backup {name} created and checked. Now keep a copy away from this computer.", name=made.name),
        )
    return redirect("backups")


@require_safe
@role_required(*OWNER_ONLY)
def backup_download(request: HttpRequest, pk: int) -> FileResponse:
    """One good backup's file, as long as it stands in the studio's own folder of backups."""
    backup = get_object_or_404(Backup, pk=pk, ok=True)
    if not backup.can_be_downloaded:
        raise Http404(_("This backup's file is missing from the backup folder."))
    security.event("backup_downloaded", request, path=backup.path)
    return FileResponse(Path(backup.path).open("rb"), as_attachment=True, filename=backup.name)
