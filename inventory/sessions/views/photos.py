"""Photos of sessions: taken while one is logged or later, served behind the login, and removed."""

from collections.abc import Iterable
from typing import Any

from django.contrib import messages
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from inventory.sessions.actions.photos import add_photo, remove_photo
from inventory.sessions.forms.pours import SessionPhotoForm
from inventory.sessions.models import Pour, Session, SessionPhoto, Stage
from studio.accounts.roles import EVERYONE, WORKERS, current_user, role_required
from studio.errors import MeniscusError
from studio.pages.saving import acted, submission_from
from studio.photos import served
from studio.preferences.context import current_studio
from studio.translation import _
from studio.values.numbers import read_small_whole


def photos_on(
    request: HttpRequest, session: Session, *, pours: list[Pour], only: Pour | None = None
) -> dict[str, Any]:
    """What the photo section of a session's page shows, or (with `only`) of one pour's: two queries."""
    photos = (only.photos if only is not None else session.photos).prefetch_related("pours")
    is_open = current_user(request).may_write and not hasattr(session.posting, "reversed_by")
    # On the day of pouring it is wet; later photos mostly show what dried.
    stage = Stage.WET if session.held_on == timezone.localdate() else Stage.DRY
    first = {"stage": stage}
    form = SessionPhotoForm(studio=current_studio(request), pours=pours, initial=first) if is_open else None
    return {"photos": list(photos), "photo_form": form}


def keep_photos(request: HttpRequest, session: Session, photos: Iterable[tuple[Any, int, int]]) -> None:
    """Keep the photos that came with a session. It is posted by now: one that cannot be kept is told of, no more."""
    pours = list(session.pours.order_by("number"))
    for upload, first, end in photos:
        of_pours = pours[first:end]
        problem = _keep(request, session, upload, of_pours)
        if problem:
            labels = ", ".join(pour.label for pour in of_pours)
            warning = _(
                "The photo of {pours} was not saved: {problem} Add it again on this page.",
                pours=labels,
                problem=problem,
            )
            messages.error(request, warning)


def _keep(
    request: HttpRequest, session: Session, upload: Any, pours: list[Pour], stage: str = Stage.WET
) -> str:
    """Why a photo was not kept; empty when it was."""
    try:
        submission = submission_from(request)
        add_photo(session=session, upload=upload, pours=pours, stage=stage, submission=submission)
    except MeniscusError as problem:
        return str(problem)
    except OSError:
        return _("It could not be stored.")
    return ""


@require_POST
@role_required(*WORKERS)
def add(request: HttpRequest, pk: int) -> HttpResponse:
    session = get_object_or_404(Session, pk=pk)
    pours = list(session.pours.order_by("number"))
    form = SessionPhotoForm(request.POST, request.FILES, studio=current_studio(request), pours=pours)
    problem = _("Choose what the photo shows.")
    if form.is_valid():
        chosen = form.cleaned_data["pour"]
        of_pours = [pour for pour in pours if pour.pk == chosen]
        upload = form.cleaned_data["photo"]
        stage = form.cleaned_data["stage"] or Stage.WET
        problem = (
            _keep(request, session, upload, of_pours, stage) if upload else _("Take or choose a photo first.")
        )
    if problem:
        messages.error(request, problem)
    else:
        messages.success(request, _("Photo saved."))
    return redirect(_back(request, session))


def _back(request: HttpRequest, session: Session) -> str:
    """To the pour's page if the photo was sent from there, else to the session's."""
    pour = session.pours.filter(pk=read_small_whole(request.POST.get("from", "")) or 0).first()
    if pour is not None:
        return reverse("inventory:pour", args=[pour.pk]) + "#photos"
    return reverse("inventory:session", args=[session.pk]) + "#photos"


@require_POST
@role_required(*WORKERS)
def remove(request: HttpRequest, pk: int) -> HttpResponse:
    photo = get_object_or_404(SessionPhoto.objects.select_related("session"), pk=pk)
    session = photo.session
    submission = submission_from(request)
    acted(request, lambda: remove_photo(photo=photo, submission=submission), _("Photo removed."))
    return redirect(_back(request, session))


@require_safe
@role_required(*EVERYONE)
def photo(request: HttpRequest, pk: int) -> FileResponse:
    photo = get_object_or_404(SessionPhoto, pk=pk)
    return served(photo.photo, filename=f"session-{photo.session_id}-{photo.pk}.jpg")


@require_safe
@role_required(*EVERYONE)
def thumbnail(request: HttpRequest, pk: int) -> FileResponse:
    photo = get_object_or_404(SessionPhoto, pk=pk)
    return served(photo.thumbnail, filename=f"session-{photo.session_id}-{photo.pk}.jpg")
