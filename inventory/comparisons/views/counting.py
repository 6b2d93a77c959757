"""Counting on a photo: choose it, tap its corners, mark what lies in four windows. Blind, and saved as one goes."""

from collections.abc import Iterable
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.html import format_html_join
from django.utils.safestring import SafeString
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from inventory.comparisons.actions.counting import (
    CountPlace,
    add_marks,
    begin_count,
    finish_count,
    remove_mark,
)
from inventory.comparisons.forms.counting import CornersForm, PiecePhotoForm, read_mark
from inventory.comparisons.models import ComparedPour, Criterion, PhotoCount, PhotoMark
from inventory.comparisons.queries.counting import outcome_of, straightened, unfinished_count
from inventory.comparisons.queries.photos import photo_key, photo_of, photos_of
from inventory.comparisons.queries.wording import count_words
from inventory.comparisons.views.scoring import go_on, round_of
from inventory.sessions.actions.photos import add_photo
from inventory.sessions.models import SessionPhoto, Stage
from studio.accounts.roles import EVERYONE, WORKERS, current_user, role_required
from studio.errors import MeniscusError
from studio.pages.saving import acted, submission_from
from studio.photos import served
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _
from studio.values.allocation import divide_half_up
from studio.values.numbers import read_small_whole
from studio.values.units import Measure

PIECES = "pour__surface", "pour__session__posting__reversed_by", "arm", "comparison"
MINUTE = 60
SECTION = "inventory:comparisons"


@require_safe
@role_required(*EVERYONE)
def piece_photo(request: HttpRequest, pk: int) -> HttpResponseBase:
    """A photo of a compared piece, under an address that tells neither its pour nor its arm."""
    compared = get_object_or_404(ComparedPour.objects.select_related("pour"), pk=pk)
    photo = photo_of(compared, request.GET.get("file", ""))
    if photo is None:
        raise Http404(_("There is no photo here."))
    return served(photo.thumbnail if "small" in request.GET else photo.photo, filename="piece.jpg")


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def count_piece(request: HttpRequest, pk: int) -> HttpResponse:
    """The photo to count on, and its four corners; an unfinished count goes on."""
    compared = get_object_or_404(ComparedPour.objects.select_related(*PIECES), pk=pk)
    stage, judge = round_of(request, compared.comparison)
    place = CountPlace(compared, _criterion(request, compared), stage, judge)
    if compared.comparison.is_finished:
        return redirect("inventory:comparison", pk=compared.comparison_id)
    begun = unfinished_count(compared, place.criterion, stage, judge.pk)
    if begun is not None and request.method == "GET" and "again" not in request.GET:
        return redirect("inventory:comparison-count", pk=begun.pk)
    photos = photos_of(compared, stage)
    photo = next((each for each in photos if photo_key(each) == request.GET.get("file")), None) or (
        photos[-1] if photos else None
    )
    if request.method == "POST":
        return _sent(request, place, photo)
    return render(request, "comparisons/corners.html", _corners_page(request, place, photos, photo))


def _sent(request: HttpRequest, place: CountPlace, photo: SessionPhoto | None) -> HttpResponse:
    """Corners begin a count; a photo is kept, to tap its corners next."""
    here = _address(place)
    studio, submission = current_studio(request), submission_from(request)
    try:
        if "corners" in request.POST:
            form = CornersForm(request.POST, studio=studio)
            if photo is None or not form.is_valid():
                messages.error(request, _("Tap the four corners of the piece first."))
                return redirect(here)
            count = begin_count(
                place=place, photo=photo, corners=form.cleaned_data["corners"], submission=submission
            )
            return redirect("inventory:comparison-count", pk=count.pk)
        upload = PiecePhotoForm(request.POST, request.FILES, studio=studio)
        if not upload.is_valid() or not upload.cleaned_data["photo"]:
            messages.error(request, _("Take or choose a photo first."))
            return redirect(here)
        pour = place.compared.pour
        kept = add_photo(
            session=pour.session,
            upload=upload.cleaned_data["photo"],
            pours=[pour],
            stage=place.stage,
            submission=submission,
        )
        here += f"&file={photo_key(kept)}"
    except MeniscusError as problem:
        messages.error(request, str(problem))
    except OSError:
        messages.error(request, _("The photo could not be stored. Try again."))
    return redirect(f"{here}&again=yes")


def _corners_page(
    request: HttpRequest, place: CountPlace, photos: list[SessionPhoto], photo: SessionPhoto | None
) -> dict[str, Any]:
    compared, studio = place.compared, current_studio(request)
    try:
        pixels = (photo.photo.width, photo.photo.height) if photo else None
    except OSError:
        photo = pixels = None
    return {
        **_page(compared, place),
        "photos": [(photo_key(each), each == photo) for each in photos],
        "photo": photo_key(photo) if photo else "",
        "pixels": pixels,
        "form": CornersForm(studio=studio),
        "upload": PiecePhotoForm(studio=studio),
        "here": _address(place),
        "title": _("Corners of the piece"),
    }


def _page(compared: ComparedPour, place: CountPlace) -> dict[str, Any]:
    """What both pages show of the piece."""
    comparison = compared.comparison
    score = reverse("inventory:comparison-score", args=[comparison.pk])
    return {
        "comparison": comparison,
        "compared": compared,
        "criterion": place.criterion,
        "label": compared.name(place.stage),
        "stage": Stage(place.stage),
        "judge": place.judge,
        "surface": compared.pour.surface,
        "back_url": f"{score}?stage={place.stage}&judge={place.judge.pk}&pour={compared.pk}",
        "back_label": _("Scores of {piece}", piece=compared.name(place.stage)),
        "section": SECTION,
    }


def _address(place: CountPlace) -> str:
    address = reverse("inventory:comparison-piece-count", args=[place.compared.pk])
    return f"{address}?stage={place.stage}&judge={place.judge.pk}&criterion={place.criterion.pk}"


def _criterion(request: HttpRequest, compared: ComparedPour) -> Criterion:
    """The criterion that the address names; the first that is counted on a photo where it names none."""
    counted = [each for each in compared.comparison.criteria.all() if each.is_on_photo]
    wanted = read_small_whole(request.GET.get("criterion", ""))
    chosen = next((each for each in counted if each.pk == wanted), None) or next(iter(counted), None)
    if chosen is None:
        raise Http404(_("Nothing is counted on photos in this comparison."))
    return chosen


def _count(pk: int) -> PhotoCount:
    rows = PhotoCount.objects.select_related(
        "criterion", "judge", "photo", "pour__comparison", "pour__pour__surface", "pour__pour__session"
    )
    return get_object_or_404(rows.prefetch_related("marks"), pk=pk)


@require_safe
@role_required(*EVERYONE)
def count(request: HttpRequest, pk: int) -> HttpResponse:
    """The straightened piece with its windows and marks."""
    row = _count(pk)
    place = CountPlace(row.pour, row.criterion, row.stage, row.judge)
    outcome, formatter = outcome_of(row), Formatter.of(current_studio(request))
    is_open = row.finished_at is None and not row.pour.comparison.is_finished
    context = {
        **_page(row.pour, place),
        "count": row,
        "marks": _drawn(row.marks.all()),
        "windows": [
            (number, left, top, held)
            for number, ((left, top), held) in enumerate(
                zip(row.windows.places, outcome.by_window, strict=True), start=1
            )
        ],
        "outcome": count_words(outcome, formatter),
        "area": formatter.quantity(divide_half_up(row.side**2, 1000), Measure.AREA),
        "may_write": current_user(request).may_write and is_open,
        "corners_url": f"{_address(place)}&again=yes",
        "title": _("Count: {criterion}", criterion=row.criterion),
    }
    return render(request, "comparisons/count.html", context)


def _drawn(marks: Iterable[PhotoMark]) -> SafeString:
    """Marks as paths, without spaces between: there are hundreds of them on a page."""
    return format_html_join(
        "",
        '<path class="mark{}" data-key="{}" d="{}"/>',
        (("" if mark.x2 is None else " is-line", mark.key, mark.path) for mark in marks),
    )


@require_safe
@role_required(*EVERYONE)
def picture(request: HttpRequest, pk: int) -> HttpResponse:
    """The straightened photo alone: nothing in it or about it tells the arm."""
    return HttpResponse(
        straightened(_count(pk)),
        content_type="image/jpeg",
        headers={
            "Cache-Control": f"private, max-age={10 * MINUTE}",
            "Content-Disposition": 'inline; filename="piece.jpg"',
            "X-Content-Type-Options": "nosniff",
        },
    )


@require_POST
@role_required(*WORKERS)
def marks(request: HttpRequest, pk: int) -> JsonResponse:
    """Keep marks and take some back, as one goes: `add` is "key,x,y" or "key,x,y,x2,y2", `remove` a key."""
    row, submission = _count(pk), submission_from(request)
    try:
        added = [read_mark(text) for text in request.POST.getlist("add")]
        if added:
            add_marks(count=row, marks=added, submission=submission)
        for key in request.POST.getlist("remove"):
            remove_mark(count=row, key=key, submission=submission)
    except MeniscusError as problem:
        return JsonResponse({"problem": str(problem)}, status=422)
    return JsonResponse({"marks": PhotoMark.objects.filter(count=row).count()})


@require_POST
@role_required(*WORKERS)
def finish_counting(request: HttpRequest, pk: int) -> HttpResponse:
    row, submission = _count(pk), submission_from(request)
    formatter = Formatter.of(current_studio(request))
    outcome = count_words(outcome_of(row), formatter)
    done = _("{piece}: {outcome}", piece=row.pour.name(row.stage), outcome=outcome)
    if not acted(request, lambda: finish_count(count=row, submission=submission), done):
        return redirect("inventory:comparison-count", pk=pk)
    return go_on(request, row.pour, Stage(row.stage), row.judge)
