"""Readers for the gallery: pieces chosen, put in order, and shown with their size, technique and cost."""

from collections.abc import Iterable

from django.db.models import F, OrderBy, Q, QuerySet, Sum

from costing.cost_sheets.lines import CostSummary
from costing.cost_sheets.queries import cost_summaries
from costing.papers.queries import sizes_in_cm, techniques, with_parts
from costing.pieces.actions.pieces import standing_pieces
from costing.pieces.calculations import ENDS
from costing.pieces.models import Piece, PiecePour
from costing.pieces.tables import PieceRow
from inventory.sessions.models import Pour
from studio.preferences.formatting import Formatter

HERE, ALL = "here", "all"
SORTS = {
    "made": ("made_on", "pk"),
    "title": ("title", "pk"),
    "size": ("area", "pk"),
    "state": ("state", "title", "pk"),
    "price": ("price", "pk"),
}


def chosen_pieces(
    *,
    state: str = HERE,
    technique: int | None = None,
    year: int | None = None,
    words: str = "",
    sort: str = "-made",
) -> QuerySet[Piece]:
    """Standing pieces that fit. `state` is a state, HERE (all that have not left) or ALL; `sort` a key of SORTS."""
    found = standing_pieces()
    if state == HERE:
        found = found.exclude(state__in=ENDS)
    elif state != ALL:
        found = found.filter(state=state)
    if technique:
        found = found.filter(pk__in=PiecePour.objects.filter(pour__technique=technique).values("piece"))
    if year:
        found = found.filter(made_on__year=year)
    for word in words.split():
        found = found.filter(_fits(word))
    # Pieces without a price come last either way; left to themselves, the databases differ in where they put them.
    columns = [
        OrderBy(F(column), descending=sort.startswith("-"), nulls_last=column == "price" or None)
        for column in SORTS[sort.removeprefix("-")]
    ]
    return with_parts(found.annotate(area=Sum("parts__pour__area")).order_by(*columns))


def piece_rows(pieces: Iterable[Piece], formatter: Formatter, *, with_cost: bool) -> list[PieceRow]:
    """What the gallery says of each piece, in the same few queries however many there are."""
    found = list(pieces)
    costs = cost_summaries(found) if with_cost else {}
    return [_shown(piece, formatter, costs.get(piece.pk)) for piece in found]


def _shown(piece: Piece, formatter: Formatter, cost: CostSummary | None) -> PieceRow:
    pours: Iterable[Pour] = [part.pour for part in piece.parts.all()]
    return PieceRow(
        piece,
        sizes_in_cm(pours, decimal_comma=formatter.decimal_comma),
        techniques(pours),
        all(pour.surface.is_round for pour in pours),
        cost,
    )


def _fits(word: str) -> Q:
    """A word of the title, the description, the surface, the session, or the label on the back."""
    parts = PiecePour.objects.filter(
        Q(pour__surface__name__icontains=word)
        | Q(pour__session__title__icontains=word)
        | Q(pour__technique__name__icontains=word)
    )
    fits = Q(title__icontains=word) | Q(description__icontains=word) | Q(pk__in=parts.values("piece"))
    number = word[1:]
    if word[:1] in "Mm" and number.isascii() and number.isdigit() and len(number) <= 9:
        fits |= Q(pk=int(number))
    return fits
