"""Piece pages: the gallery. The pages of one piece stand in modules of their own."""

from django.db.models import Count
from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from costing.papers.queries import with_parts
from costing.pieces.actions.pieces import pours_without_piece, standing_pieces
from costing.pieces.filters import PieceFilter
from costing.pieces.tables import PieceTable
from costing.pieces.views.piece_rows import piece_rows
from studio.accounts.roles import EVERYONE, current_user, role_required
from studio.pages.tables import list_page, page_of
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter

PER_PAGE = 48


@require_safe
@role_required(*EVERYONE)
def pieces(request: HttpRequest) -> HttpResponse:
    filters = PieceFilter(request.GET, standing_pieces(), request=request)
    page_obj = page_of(request, with_parts(filters.qs), PER_PAGE)
    formatter = Formatter.of(current_studio(request))
    rows = piece_rows(page_obj, formatter, with_cost=current_user(request).sees_money)
    context = {
        "page_obj": page_obj,
        "filters": filters,
        "view": "list" if request.GET.get("view") == "list" else "",
        "counts": dict(
            standing_pieces().order_by().values_list("state").annotate(Count("pk", distinct=True))
        ),
        "loose_pours": len(pours_without_piece()),
    }
    return list_page(request, "pieces/list.html", PieceTable(rows, request, filters), context)
