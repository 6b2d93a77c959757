"""Making pieces of pours: one of each, or one of the chosen."""

from itertools import groupby
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import URLPattern, path
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from costing.forms.pieces import PieceForm
from costing.pieces import make_piece, make_pieces_of_session, pours_without_piece
from costing.price_lists import size_in_cm
from inventory.models import Pour, Session
from inventory.views.delivery_list import whole_number
from studio.context import current
from studio.errors import MeniscusError
from studio.roles import WORKERS, page, signed_in
from studio.showing import Shown

MOST_POURS = 120  # on one page; older ones come up as these become pieces


@require_http_methods(["GET", "POST"])
@page(*WORKERS)
def new(request: HttpRequest) -> HttpResponse:
    loose = pours_without_piece()
    pours = _asked_for(loose, request.GET.get("session", ""))[:MOST_POURS]
    form = PieceForm(
        request.POST if request.method == "POST" else None,
        studio=current(request),
        pours=[pour.pk for pour in pours],
        initial={"pours": [pour.pk for pour in pours] if len(pours) == 1 else []},
    )
    if form.is_bound and form.is_valid():
        said = form.cleaned_data
        try:
            made = make_piece(
                title=said["title"],
                pours=[pour for pour in pours if pour.pk in said["pours"]],
                by=signed_in(request),
                at=timezone.now(),
                description=said["description"],
                size_note=said["size_note"],
            )
        except MeniscusError as problem:
            form.refuse(problem)
        else:
            messages.success(request, f"“{made.title}” is made. Write {made.label} on its back.")
            return redirect("costing:piece", pk=made.pk)
    return _page(request, form, pours, older=len(loose) > len(pours))


@require_POST
@page(*WORKERS)
def of_session(request: HttpRequest, pk: int) -> HttpResponse:
    """One piece of each pour of a session that is no piece yet."""
    session = get_object_or_404(Session.objects.standing(), pk=pk)
    try:
        made = make_pieces_of_session(session=session, by=signed_in(request), at=timezone.now())
    except MeniscusError as problem:
        messages.error(request, str(problem))
    else:
        count = f"{len(made)} piece{'s' if len(made) != 1 else ''}"
        messages.success(
            request,
            f"{count} made of {session}." if made else f"Every good pour of {session} is a piece already.",
        )
    return redirect("costing:pieces")


def _asked_for(pours: list[Pour], session: str) -> list[Pour]:
    """The pours of the session named in the address as ?session=…; of all of them without one."""
    number = whole_number(session)
    return [pour for pour in pours if number is None or pour.session_id == number]


def _page(request: HttpRequest, form: PieceForm, pours: list[Pour], *, older: bool) -> HttpResponse:
    comma = Shown.of(current(request)).decimal_comma
    groups: list[dict[str, Any]] = [
        {
            "session": session,
            "rows": [{"pour": pour, "size": size_in_cm(pour.surface, decimal_comma=comma)} for pour in found],
        }
        for session, found in groupby(pours, key=lambda pour: pour.session)
    ]
    context = {"form": form, "groups": groups, "older": older, "section": "costing:pieces"}
    return render(request, "costing/piece/new.html", context, status=422 if form.is_bound else 200)


urlpatterns: list[URLPattern] = [
    path("pieces/new/", new, name="piece-new"),
    path("pieces/of-session/<int:pk>/", of_session, name="pieces-of-session"),
]
