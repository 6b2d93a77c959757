"""Pages of the ground floor: backups for the owner, and the record of changes."""

from datetime import date
from pathlib import Path

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.core.paginator import Paginator
from django.db import connection
from django.db.models import QuerySet
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.templatetags.static import static
from django.urls import path
from django.utils import timezone
from django.utils.dateparse import parse_date
from django.views.decorators.http import require_POST, require_safe

from studio.accounts import security_log as security
from studio.accounts.models import Role, User
from studio.accounts.roles import OWNER_ONLY, role_required
from studio.auditing.models import Change
from studio.auditing.wording import all_in_words, noun
from studio.backups.actions import backup_into, last_good_backup
from studio.backups.archive import BackupError
from studio.backups.models import Backup
from studio.operations.checks import LARGEST_LOG, large_log
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _
from studio.values.numbers import read_small_whole

PAGE = 50


@require_safe
@role_required(*OWNER_ONLY)
def backups(request: HttpRequest) -> HttpResponse:
    """Every attempt at a backup, newest first, and when the last good one was."""
    found = Paginator(Backup.objects.all(), PAGE).get_page(request.GET.get("page"))
    rows = [{"backup": one, "can_fetch": one.ok and _in_place(one)} for one in found]
    context = {
        "page_obj": found,
        "rows": rows,
        "last_good": last_good_backup(),
        "kept": settings.BACKUPS_KEPT,
        "large_log": large_log(connection),
        "largest_log": LARGEST_LOG,
    }
    return render(request, "backups/list.html", context)


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
            request, _("{name} is made and checked. Now keep a copy away from this machine.", name=made.name)
        )
    return redirect("backups")


@require_safe
@role_required(*OWNER_ONLY)
def backup_download(request: HttpRequest, pk: int) -> FileResponse:
    """One good backup's file, as long as it stands in the studio's own folder of backups."""
    backup = get_object_or_404(Backup, pk=pk, ok=True)
    if not _in_place(backup):
        raise Http404(_("This backup's file is not in the folder of backups."))
    security.event("backup_downloaded", request, path=backup.path)
    return FileResponse(Path(backup.path).open("rb"), as_attachment=True, filename=backup.name)


@require_safe
@role_required(Role.OWNER, Role.BOOKKEEPER, money=True)
def changes(request: HttpRequest) -> HttpResponse:
    """Who changed which field of the reference data, when, from what, to what."""
    found = _filtered(Change.objects.select_related("by"), request)
    page_obj = Paginator(found, PAGE).get_page(request.GET.get("page"))
    formatter = Formatter.of(current_studio(request))
    context = {
        "page_obj": page_obj,
        "rows": all_in_words(page_obj, formatter),
        "kinds": [(label.lower(), noun(label)) for label in settings.RECORDED],
        "people": User.objects.order_by("username"),
        "said": request.GET,
    }
    return render(request, "change_log/list.html", context)


@require_safe
@login_not_required
def favicon(request: HttpRequest) -> HttpResponse:
    """Browsers ask for the icon here, whatever a page says."""
    return redirect(static("studio/icon.svg"))


def _in_place(backup: Backup) -> bool:
    file = Path(backup.path)
    return file.parent == Path(settings.BACKUPS).resolve() and file.is_file()


def _filtered(found: QuerySet[Change], request: HttpRequest) -> QuerySet[Change]:
    said = request.GET
    if said.get("kind"):
        found = found.filter(kind=said["kind"])
    if (by := read_small_whole(said.get("by", ""))) is not None:
        found = found.filter(by_id=by)
    if said.get("search"):
        found = found.filter(name__icontains=said["search"].replace("\0", ""))
    for key, lookup in (("from", "at__date__gte"), ("to", "at__date__lte")):
        day = _day(said.get(key, ""))
        if day:
            found = found.filter(**{lookup: day})
    return found


def _day(text: str) -> date | None:
    try:
        return parse_date(text)
    except ValueError:
        return None


urlpatterns = [
    path("favicon.ico", favicon, name="favicon"),
    path("backups/", backups, name="backups"),
    path("backups/now/", backup_now, name="backup-now"),
    path("backups/<int:pk>/", backup_download, name="backup-download"),
    path("changes/", changes, name="audit"),
]
