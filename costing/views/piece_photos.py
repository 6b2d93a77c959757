"""Photos: served behind the login, put up, replaced and taken away."""

from django.contrib import messages
from django.db.models.fields.files import FieldFile
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import URLPattern, path
from django.views.decorators.http import require_POST, require_safe

from costing.forms.pieces import PhotoForm
from costing.models import Piece
from costing.photos import remove_photo, store_photo
from costing.views.piece import piece_or_404, piece_page
from studio.context import current
from studio.errors import MeniscusError
from studio.roles import EVERYONE, WORKERS, page

A_DAY = 24 * 60 * 60


@require_safe
@page(*EVERYONE)
def photo(request: HttpRequest, pk: int) -> FileResponse:
    piece = get_object_or_404(Piece, pk=pk)
    return _picture(piece, piece.photo)


@require_safe
@page(*EVERYONE)
def thumbnail(request: HttpRequest, pk: int) -> FileResponse:
    piece = get_object_or_404(Piece, pk=pk)
    return _picture(piece, piece.thumbnail)


@require_POST
@page(*WORKERS)
def change(request: HttpRequest, pk: int) -> HttpResponse:
    """Put up a photo, in place of the one before."""
    piece = piece_or_404(pk)
    form = PhotoForm(request.POST, request.FILES, prefix="photo", studio=current(request))
    if form.is_valid():
        try:
            store_photo(piece=piece, upload=form.cleaned_data["photo"])
        except MeniscusError as problem:
            form.add_error("photo", str(problem))
        else:
            messages.success(request, "The photo is up.")
            return redirect("costing:piece", pk=pk)
    return piece_page(request, piece, status=422, photo=form)


@require_POST
@page(*WORKERS)
def remove(request: HttpRequest, pk: int) -> HttpResponse:
    remove_photo(piece=piece_or_404(pk))
    messages.success(request, "The photo is taken down.")
    return redirect("costing:piece", pk=pk)


def _picture(piece: Piece, file: FieldFile) -> FileResponse:
    """A stored JPEG. A page asks for it by its random name, so it may be kept on the device for a day."""
    if not file:
        raise Http404("This piece has no photo.")
    try:
        opened = file.open("rb")
    except OSError:
        raise Http404("This photo is gone from the disk.") from None
    return FileResponse(
        opened,
        content_type="image/jpeg",
        filename=f"{piece.label}.jpg",
        headers={"Cache-Control": f"private, max-age={A_DAY}", "X-Content-Type-Options": "nosniff"},
    )


urlpatterns: list[URLPattern] = [
    path("pieces/<int:pk>/photo/", photo, name="piece-photo"),
    path("pieces/<int:pk>/thumbnail/", thumbnail, name="piece-thumbnail"),
    path("pieces/<int:pk>/photo/change/", change, name="piece-photo-change"),
    path("pieces/<int:pk>/photo/remove/", remove, name="piece-photo-remove"),
]
