"""Photos: served behind the login, put up, replaced and taken away."""

from django.contrib import messages
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST, require_safe

from costing.pieces.actions.photos import adopt_photo, remove_photo, store_photo
from costing.pieces.models import Piece
from costing.pieces.views.piece import piece_or_404, piece_page
from inventory.sessions.models import SessionPhoto
from studio.accounts.roles import EVERYONE, WORKERS, role_required
from studio.auditing.edit_conflicts import read_change_number
from studio.pages.photo_form import PhotoForm
from studio.pages.saving import acted, saved, submission_from
from studio.photos import served
from studio.preferences.context import current_studio
from studio.translation import _
from studio.values.numbers import read_small_whole


@require_safe
@role_required(*EVERYONE)
def photo(request: HttpRequest, pk: int, *, is_thumbnail: bool = False) -> FileResponse:
    piece = get_object_or_404(Piece, pk=pk)
    return served(piece.thumbnail if is_thumbnail else piece.photo, filename=f"{piece.number}.jpg")


@require_POST
@role_required(*WORKERS)
def change(request: HttpRequest, pk: int) -> HttpResponse:
    """Put up a photo, in place of the one before."""
    piece = piece_or_404(pk)
    form = PhotoForm(request.POST, request.FILES, prefix="photo", studio=current_studio(request))

    def store() -> Piece:
        upload, seen = form.cleaned_data["photo"], form.cleaned_data["seen"]
        return store_photo(piece=piece, upload=upload, seen=seen, submission=submission_from(request))

    if not saved(form, store):
        return piece_page(request, piece, status=422, photo=form)
    messages.success(request, _("Photo saved."))
    return redirect("costing:piece", pk=pk)


@require_POST
@role_required(*WORKERS)
def remove(request: HttpRequest, pk: int) -> HttpResponse:
    piece, seen = piece_or_404(pk), read_change_number(request.POST.get("photo-seen", ""))
    acted(
        request,
        lambda: remove_photo(piece=piece, seen=seen, submission=submission_from(request)),
        _("Photo removed."),
    )
    return redirect("costing:piece", pk=pk)


@require_POST
@role_required(*WORKERS)
def adopt(request: HttpRequest, pk: int) -> HttpResponse:
    """Make a photo that was taken at the bench the piece's first one."""
    piece, seen = piece_or_404(pk), read_change_number(request.POST.get("photo-seen", ""))
    number = read_small_whole(request.POST.get("photo", "")) or 0
    photo = SessionPhoto.objects.filter(pk=number).first()
    if photo is None:
        messages.error(request, _("Choose a photo first."))
    else:
        acted(
            request,
            lambda: adopt_photo(piece=piece, photo=photo, seen=seen, submission=submission_from(request)),
            _("Photo saved."),
        )
    return redirect("costing:piece", pk=pk)
