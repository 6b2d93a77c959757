"""Finishing a piece and packing it: materials and minutes."""

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from costing.pieces.actions.pieces import WorkFacts, finish_piece, pack_piece
from costing.pieces.calculations import State
from costing.pieces.forms.pieces import FOR_FINISHING, FOR_PACKING, WorkForm, ingredients, used_rows
from costing.pieces.models import Piece
from costing.pieces.queries import ready_on, usual_materials
from costing.pieces.views.piece import piece_or_404
from inventory.ledger.models import EntryRole
from studio.accounts.roles import WORKERS, role_required
from studio.pages.saving import form_status, saved, submission_from
from studio.preferences.context import current_studio
from studio.translation import _


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def finish(request: HttpRequest, pk: int) -> HttpResponse:
    piece = piece_or_404(pk)
    if piece.state == State.DRY:
        done = _("“{title}” is finished.", title=piece.title)
    else:
        done = _("What you added is included in the cost of “{title}”.", title=piece.title)
    return _work_page(request, piece, EntryRole.FINISH, finish_piece, done)


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def pack(request: HttpRequest, pk: int) -> HttpResponse:
    piece = piece_or_404(pk)
    done = _("“{title}” is packed; the materials are included in its cost.", title=piece.title)
    return _work_page(request, piece, EntryRole.PACKING, pack_piece, done)


def _work_page(
    request: HttpRequest, piece: Piece, role: EntryRole, action: Callable[..., Piece], done: str
) -> HttpResponse:
    data, studio, is_finishing = request.POST or None, current_studio(request), role == EntryRole.FINISH
    form = WorkForm(data, studio=studio)
    usual = [] if data else usual_materials(piece.pours, role)
    rows = used_rows(data, studio=studio, kinds=FOR_FINISHING if is_finishing else FOR_PACKING, usual=usual)

    def act() -> Piece:
        sent = form.cleaned_data
        confirmed = {"confirm_gain": sent["confirm_gain"]}
        if is_finishing:
            confirmed["anyway"] = sent["anyway"]
        return action(
            piece=piece,
            facts=WorkFacts(ingredients(rows), minutes=sent["minutes"] or 0, note=sent["note"]),
            submission=submission_from(request, on=sent["on"], key=sent["key"]),
            **confirmed,
        )

    if saved(form, act, used=rows):
        messages.success(request, done)
        return redirect("costing:piece", pk=piece.pk)
    context = {
        "piece": piece,
        "form": form,
        "formset": rows,
        "is_prefilled": bool(usual),
        "ready_on": ready_on(piece, studio),
        "today": timezone.localdate(),
        "section": "costing:pieces",
    }
    template = "pieces/finish.html" if is_finishing else "pieces/pack.html"
    return render(request, template, context, status=form_status(form))
