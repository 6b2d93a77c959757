"""Pieces that leave other than by a sale, and bringing one back."""

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.pieces.views.piece import piece_or_404, recorded
from costing.selling.actions import bring_back_piece, give_away, scrape_piece, write_off_piece
from costing.selling.forms.disposals import BringBackForm, DisposalForm, GiveForm, ScrapeForm, WriteOffForm
from studio.accounts.roles import WORKERS, role_required
from studio.pages.saving import form_status, saved
from studio.preferences.context import current_studio


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS, money=True)
def give(request: HttpRequest, pk: int) -> HttpResponse:
    return _disposal(request, pk, GiveForm, give_away)


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def write_off(request: HttpRequest, pk: int) -> HttpResponse:
    return _disposal(request, pk, WriteOffForm, write_off_piece)


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def scrape(request: HttpRequest, pk: int) -> HttpResponse:
    return _disposal(request, pk, ScrapeForm, scrape_piece)


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def bring_back(request: HttpRequest, pk: int) -> HttpResponse:
    return _disposal(request, pk, BringBackForm, bring_back_piece)


def _disposal(
    request: HttpRequest, pk: int, form_class: type[DisposalForm], action: Callable[..., Piece]
) -> HttpResponse:
    piece = piece_or_404(pk)
    form = form_class(
        request.POST or None, studio=current_studio(request), initial={"market_value": piece.price}
    )
    if not saved(form, lambda: action(piece=piece, **recorded(request, form))):
        context = {
            "piece": piece,
            "form": form,
            "words": State(piece.state).words,
            "section": "costing:pieces",
        }
        return render(request, "pieces/disposal.html", context, status=form_status(form))
    state = State(piece.state).words
    messages.success(request, str(form.done).format(title=piece.title, state=state))
    return redirect("costing:piece", pk=pk)
