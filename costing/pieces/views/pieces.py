"""The gallery of pieces, and making one piece of the chosen pours."""

from itertools import groupby

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from costing.cost_sheets.queries import cost_summaries
from costing.locations.queries import STUDIO, where_are
from costing.locations.wording import place_of
from costing.papers.queries import sizes_in_cm
from costing.pieces.actions.pieces import PieceFacts, make_piece
from costing.pieces.filters import PieceFilter
from costing.pieces.forms.pieces import PieceForm
from costing.pieces.models import DESCRIPTION
from costing.pieces.queries import (
    pieces_by_state,
    pours_without_piece,
    standing_pieces,
    with_colours,
    with_parts,
)
from costing.pieces.tables import PieceRow, PieceTable
from studio.accounts.roles import EVERYONE, WORKERS, current_user, role_required
from studio.pages.saving import form_status, saved, submission_from
from studio.pages.tables import list_page, page_of
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _
from studio.values.numbers import read_small_whole

PER_PAGE = 24
MOST_POURS = 120  # on one page; older ones come up as these become pieces


@require_safe
@role_required(*EVERYONE)
def pieces(request: HttpRequest) -> HttpResponse:
    filters = PieceFilter(request.GET, standing_pieces(), request=request)
    page_obj = page_of(request, with_parts(filters.qs), PER_PAGE)
    comma = Formatter.of(current_studio(request)).decimal_comma
    costs = cost_summaries(page_obj) if current_user(request).sees_money else {}
    where = where_are(page_obj)
    with_colours(list(page_obj))
    rows = [
        PieceRow(
            piece,
            sizes_in_cm(piece.pours, decimal_comma=comma),
            costs.get(piece.pk),
            place_of(piece, where[piece.pk]),
            is_away=where[piece.pk].kind != STUDIO,
        )
        for piece in page_obj
    ]
    context = {
        "page_obj": page_obj,
        "filters": filters,
        "view": "list" if request.GET.get("view") == "list" else "",
        "counts": pieces_by_state(),
        "loose_pours": pours_without_piece().count(),
    }
    return list_page(request, "pieces/list.html", PieceTable(rows, request, filters), context)


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def new(request: HttpRequest) -> HttpResponse:
    loose = pours_without_piece()
    session = read_small_whole(request.GET.get("session", ""))
    pours = list((loose if session is None else loose.filter(session=session))[:MOST_POURS])
    form = PieceForm(
        request.POST or None,
        studio=current_studio(request),
        pours=pours,
        initial={"pours": [pour.pk for pour in pours] if len(pours) == 1 else []},
    )

    def facts() -> PieceFacts:
        ticked = form.cleaned_data["pours"]
        described = {name: form.cleaned_data[name] for name in DESCRIPTION}
        return PieceFacts(pours=[pour for pour in pours if pour.pk in ticked], **described)

    piece = saved(form, lambda: make_piece(facts=facts(), submission=submission_from(request)))
    if piece is not None:
        messages.success(
            request, _("“{title}” created. Write {label} on the back.", title=piece.title, label=piece.label)
        )
        return redirect("costing:piece", pk=piece.pk)
    groups = [(session, list(group)) for session, group in groupby(pours, key=lambda pour: pour.session)]
    context = {
        "title": _("Create a piece"),
        "back_url": reverse("costing:pieces"),
        "back_label": _("Pieces"),
        "form": form,
        "groups": groups,
        "older": loose.count() > len(pours),
        "section": "costing:pieces",
    }
    return render(request, "pieces/new.html", context, status=form_status(form))
