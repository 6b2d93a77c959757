"""Finishing a piece and packing it: materials and minutes."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from costing.pieces.actions.pieces import WorkFacts, finish_piece, pack_piece
from costing.pieces.calculations import State
from costing.pieces.forms import FOR_FINISHING, FOR_PACKING, WorkSheet
from costing.pieces.models import Piece
from costing.pieces.queries import ready_on, usual_materials
from costing.pieces.views.piece import piece_or_404
from inventory.ledger.models import EntryRole
from inventory.materials.models import Kind
from studio.accounts.roles import WORKERS, role_required
from studio.errors import MeniscusError
from studio.pages.saving import form_status
from studio.pages.submissions import submission_from
from studio.preferences.context import current_studio
from studio.translation import _


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def finish(request: HttpRequest, pk: int) -> HttpResponse:
    piece = piece_or_404(pk)
    sheet = _sheet(request, piece, EntryRole.FINISH, FOR_FINISHING)
    was_dry = piece.state == State.DRY

    def write(**facts: Any) -> Piece:
        return finish_piece(anyway=sheet.form.cleaned_data["anyway"], **facts)

    if not _posted(request, piece, sheet, write):
        return _page(request, piece, sheet, "pieces/finish.html")
    done = (
        _("“{title}” is finished.", title=piece.title)
        if was_dry
        else _("What you added is included in the cost of “{title}”.", title=piece.title)
    )
    messages.success(request, done)
    return redirect("costing:piece", pk=pk)


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def pack(request: HttpRequest, pk: int) -> HttpResponse:
    piece = piece_or_404(pk)
    sheet = _sheet(request, piece, EntryRole.PACKING, FOR_PACKING)
    if not _posted(request, piece, sheet, pack_piece):
        return _page(request, piece, sheet, "pieces/pack.html")
    messages.success(
        request, _("“{title}” is packed; the materials are included in its cost.", title=piece.title)
    )
    return redirect("costing:piece", pk=pk)


def _sheet(request: HttpRequest, piece: Piece, role: EntryRole, kinds: tuple[Kind, ...]) -> WorkSheet:
    data = request.POST or None
    usual = [] if data else usual_materials(piece, role)
    return WorkSheet(data, studio=current_studio(request), kinds=kinds, usual=usual)


def _posted(request: HttpRequest, piece: Piece, sheet: WorkSheet, write: Callable[..., Piece]) -> bool:
    """Whether the work was sent, read and written; a refusal goes onto the page."""
    if not sheet.form.is_bound or not sheet.is_valid():
        return False
    sent = sheet.form.cleaned_data
    try:
        write(
            piece=piece,
            facts=WorkFacts(sheet.materials, minutes=sent["minutes"] or 0, note=sent["note"]),
            submission=submission_from(request, on=sent["on"], key=sent["key"]),
            confirm_gain=sent["confirm_gain"],
        )
    except MeniscusError as problem:
        sheet.refuse(problem)
        return False
    return True


def _page(request: HttpRequest, piece: Piece, sheet: WorkSheet, template: str) -> HttpResponse:
    context = {
        "piece": piece,
        "sheet": sheet,
        "form": sheet.form,
        "formset": sheet.rows,
        "ready_on": ready_on(piece, current_studio(request)),
        "today": timezone.localdate(),
        "section": "costing:pieces",
    }
    return render(request, template, context, status=form_status(sheet.form))
