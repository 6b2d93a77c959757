"""A piece that leaves other than by a sale: given away, kept, written off; and brought back when that was a mistake."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.pieces.views.piece import piece_or_404
from costing.selling.actions.disposals import bring_back, give_away, write_off_piece
from costing.selling.forms import BackForm, GiveForm, SpoilForm
from studio.accounts.roles import WORKERS, role_required
from studio.errors import MeniscusError
from studio.pages.forms import KeyedForm
from studio.pages.submissions import submission_from
from studio.preferences.context import current_studio
from studio.translation import _


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS, money=True)
def give(request: HttpRequest, pk: int) -> HttpResponse:
    found = piece_or_404(pk)
    form = GiveForm(
        request.POST if request.method == "POST" else None,
        studio=current_studio(request),
        initial={"on": timezone.localdate(), "market_value": found.price},
    )
    if form.is_bound and form.is_valid():
        said = form.cleaned_data
        try:
            give_away(
                piece=found,
                reason=said["reason"],
                market_value=said["market_value"],
                note=said["note"],
                submission=submission_from(request, on=said["on"], key=said["key"]),
            )
        except MeniscusError as problem:
            form.refuse(problem)
        else:
            return _left(request, found)
    return _page(request, found, form, "pieces/give.html")


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def write_off(request: HttpRequest, pk: int) -> HttpResponse:
    found = piece_or_404(pk)
    form = _plain(SpoilForm, request)
    if form.is_bound and form.is_valid():
        said = form.cleaned_data
        try:
            write_off_piece(
                piece=found,
                reason=said["reason"],
                note=said["note"],
                submission=submission_from(request, on=said["on"], key=said["key"]),
            )
        except MeniscusError as problem:
            form.refuse(problem)
        else:
            return _left(request, found)
    return _page(request, found, form, "pieces/write_off.html")


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def back(request: HttpRequest, pk: int) -> HttpResponse:
    found = piece_or_404(pk)
    form = _plain(BackForm, request)
    if form.is_bound and form.is_valid():
        said = form.cleaned_data
        try:
            bring_back(
                piece=found,
                note=said["note"],
                submission=submission_from(request, on=said["on"], key=said["key"]),
            )
        except MeniscusError as problem:
            form.refuse(problem)
        else:
            state = State(found.state).words
            messages.success(
                request, _("“{title}” is back: {state}, with its full cost.", title=found.title, state=state)
            )
            return redirect("costing:piece", pk=pk)
    return _page(request, found, form, "pieces/bring_back.html")


def _plain(form: type[KeyedForm], request: HttpRequest) -> KeyedForm:
    data = request.POST if request.method == "POST" else None
    return form(data, studio=current_studio(request), initial={"on": timezone.localdate()})


def _left(request: HttpRequest, found: Piece) -> HttpResponse:
    state = State(found.state).words
    messages.success(
        request,
        _("“{title}” is {state}. Its cost has been moved to that reason.", title=found.title, state=state),
    )
    return redirect("costing:piece", pk=found.pk)


def _page(request: HttpRequest, found: Piece, form: KeyedForm, template: str) -> HttpResponse:
    context: dict[str, Any] = {
        "piece": found,
        "form": form,
        "words": State(found.state).words,
        "section": "costing:pieces",
    }
    return render(request, template, context, status=422 if form.is_bound else 200)
