"""Finishing a piece and packing it: materials and minutes."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from costing.pieces.actions.pieces import WorkFacts, finish_piece, pack_piece, ready_on
from costing.pieces.calculations import State
from costing.pieces.forms.work import FOR_FINISHING, FOR_PACKING, WorkSheet
from costing.pieces.models import Piece
from costing.pieces.usual_work import usual_materials
from costing.pieces.views.piece import piece_or_404
from inventory.ledger.models import EntryRole
from inventory.materials.models import Kind
from studio.accounts.roles import WORKERS, role_required
from studio.errors import MeniscusError
from studio.pages.submissions import submission_from
from studio.preferences.context import current_studio
from studio.translation import _


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def finish(request: HttpRequest, pk: int) -> HttpResponse:
    found = piece_or_404(pk)
    sheet = _sheet(request, found, EntryRole.FINISH, FOR_FINISHING)
    was_dry = found.state == State.DRY

    def write(**facts: Any) -> Piece:
        return finish_piece(anyway=sheet.form.cleaned_data["anyway"], **facts)

    if _posted(request, found, sheet, write):
        if was_dry:
            messages.success(request, _("“{title}” is finished.", title=found.title))
        else:
            messages.success(
                request, _("What you added is included in the cost of “{title}”.", title=found.title)
            )
        return redirect("costing:piece", pk=pk)
    return _page(request, found, sheet, "pieces/finish.html")


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def pack(request: HttpRequest, pk: int) -> HttpResponse:
    found = piece_or_404(pk)
    sheet = _sheet(request, found, EntryRole.PACKING, FOR_PACKING)
    if _posted(request, found, sheet, pack_piece):
        messages.success(
            request, _("“{title}” is packed; the materials are included in its cost.", title=found.title)
        )
        return redirect("costing:piece", pk=pk)
    return _page(request, found, sheet, "pieces/pack.html")


def _sheet(request: HttpRequest, found: Piece, role: EntryRole, kinds: tuple[Kind, ...]) -> WorkSheet:
    is_post = request.method == "POST"
    return WorkSheet(
        studio=current_studio(request),
        kinds=kinds,
        first={"on": timezone.localdate()},
        usual=[] if is_post else usual_materials(found, role),
        data=request.POST if is_post else None,
    )


def _posted(request: HttpRequest, found: Piece, sheet: WorkSheet, write: Callable[..., Piece]) -> bool:
    """Whether the work was sent, read and written; a refusal goes onto the page."""
    if request.method != "POST" or not sheet.is_valid():
        return False
    sent = sheet.form.cleaned_data
    try:
        write(
            piece=found,
            facts=WorkFacts(sheet.materials, minutes=sent["minutes"] or 0, note=sent["note"]),
            submission=submission_from(request, on=sent["on"], key=sent["key"]),
            confirm_gain=sent["confirm_gain"],
        )
    except MeniscusError as problem:
        sheet.refuse(problem)
        return False
    return True


def _page(request: HttpRequest, found: Piece, sheet: WorkSheet, template: str) -> HttpResponse:
    context = {
        "piece": found,
        "sheet": sheet,
        "form": sheet.form,
        "formset": sheet.rows,
        "ready_on": ready_on(found, current_studio(request)),
        "today": timezone.localdate(),
        "section": "costing:pieces",
    }
    return render(request, template, context, status=422 if sheet.form.is_bound else 200)
