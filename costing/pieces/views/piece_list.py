"""Piece pages: the gallery. The pages of one piece stand in modules of their own."""

from dataclasses import dataclass

from django.core.paginator import Paginator
from django.db.models import Count
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_safe

from costing.pieces.actions.pieces import pours_without_piece, standing_pieces
from costing.pieces.models import Piece, PieceState
from costing.pieces.views.piece_rows import ALL, HERE, SORTS, chosen_pieces, shown_pieces
from inventory.sessions.models import Technique
from studio.accounts.roles import EVERYONE, current_user, role_required
from studio.pages.query_values import whole_number, year_of
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter

PER_PAGE = 48
ORDERS = [
    ("-made", gettext_lazy("Newest first")),
    ("made", gettext_lazy("Oldest first")),
    ("title", gettext_lazy("Title")),
    ("-size", gettext_lazy("Largest first")),
    ("size", gettext_lazy("Smallest first")),
    ("state", gettext_lazy("State")),
]
BY_PRICE = [("-price", gettext_lazy("Dearest first")), ("price", gettext_lazy("Cheapest first"))]


@dataclass(frozen=True, slots=True)
class PieceFilter:
    """What the gallery was asked to show; anything unreadable is left out."""

    state: str
    technique: int | None
    year: int | None
    words: str
    sort: str
    as_list: bool

    @classmethod
    def of(cls, query: QueryDict, *, sees_money: bool) -> "PieceFilter":
        state, sort = query.get("state", HERE), query.get("sort", "-made")
        known = sort.removeprefix("-") in SORTS and (sees_money or sort.removeprefix("-") != "price")
        return cls(
            state if state in (ALL, *PieceState.values) else HERE,
            whole_number(query.get("technique", "")),
            year_of(query.get("year", "")),
            query.get("words", "").replace("\0", "").strip()[:100],
            sort if known else "-made",
            query.get("view") == "list",
        )

    @property
    def is_narrow(self) -> bool:
        """Whether one of the folded choices is in use."""
        return bool(self.technique or self.year or self.sort != "-made")

    def __bool__(self) -> bool:
        return bool(self.state != HERE or self.technique or self.year or self.words)


@require_safe
@role_required(*EVERYONE)
def pieces(request: HttpRequest) -> HttpResponse:
    user = current_user(request)
    asked = PieceFilter.of(request.GET, sees_money=user.sees_money)
    chosen = chosen_pieces(
        state=asked.state, technique=asked.technique, year=asked.year, words=asked.words, sort=asked.sort
    )
    page_obj = Paginator(chosen, PER_PAGE).get_page(request.GET.get("page"))
    context = {
        "page_obj": page_obj,
        "rows": shown_pieces(page_obj, Formatter.of(current_studio(request)), with_cost=user.sees_money),
        "asked": asked,
        "sort": asked.sort,
        "orders": ORDERS + (BY_PRICE if user.sees_money else []),
        "states": PieceState.choices,
        "counts": dict(
            standing_pieces().order_by().values_list("state").annotate(Count("pk", distinct=True))
        ),
        "techniques": Technique.objects.all(),
        "years": [day.year for day in Piece.objects.dates("made_on", "year", order="DESC")],
        "loose_pours": len(pours_without_piece()),
    }
    return render(request, "pieces/list.html", context)
