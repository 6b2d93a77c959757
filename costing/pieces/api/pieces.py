"""Pieces: chosen, made of pours, moved on and priced."""

from typing import Any

from django.core.paginator import Page
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from costing.cost_sheets.api import CostSheetShape
from costing.cost_sheets.queries import cost_sheet, cost_summaries
from costing.papers.queries import sizes_in_cm, techniques, with_parts
from costing.pieces.actions.pieces import make_piece, move_on, set_price
from costing.pieces.api.base import PieceView
from costing.pieces.models import Piece, PieceState
from costing.pieces.views.piece_rows import ALL, HERE, SORTS, chosen_pieces
from inventory.ledger.api.base import LONGEST_NOTES
from inventory.sessions.models import Pour
from studio.accounts.permissions import SeesMoney
from studio.api.fields import Money, MoneyShown, RowNumber, Said, Shape, WholeNumber
from studio.api.views import ENTITY_TAG, IF_MATCH, REFUSED, REFUSED_TO_WRITE, Asked, tag
from studio.auditing.edit_conflicts import last_change
from studio.pages.formatting import Shown

MOST_POURS = 50
ORDERS = [sign + order for order in SORTS for sign in ("", "-")]


class PiecesAsked(Asked):
    """What the list may be asked for."""

    money_orders = frozenset({"price"})

    search = serializers.CharField(
        required=False, max_length=100, help_text="Words of the title, surface, session."
    )
    state = serializers.ChoiceField(
        required=False, choices=[HERE, ALL, *PieceState.values], help_text="Left out: all that have not left."
    )
    technique = WholeNumber(least=1, required=False)
    year = WholeNumber(least=1, most=9999, required=False)
    order = serializers.ChoiceField(required=False, choices=ORDERS, help_text="A minus turns it round.")


class PieceSaid(Said):
    """A new piece of one good pour or several."""

    title = serializers.CharField(max_length=160)
    pours = serializers.ListField(
        child=RowNumber(Pour.objects.all()), allow_empty=False, min_length=1, max_length=MOST_POURS
    )
    description = serializers.CharField(
        required=False, max_length=LONGEST_NOTES, allow_blank=True, default=""
    )
    size_note = serializers.CharField(required=False, max_length=60, allow_blank=True, default="")


class StepSaid(Said):
    """A step on or back. `anyway` finishes a piece before its drying time is over."""

    to = serializers.ChoiceField(choices=PieceState.choices)
    on = serializers.DateField()
    note = serializers.CharField(required=False, max_length=300, allow_blank=True, default="")
    anyway = serializers.BooleanField(default=False)


class PriceSaid(Said):
    """The asking price, tax included; null takes it off."""

    price = Money(allow_null=True)


class PieceShape(Shape):
    """A piece in a line."""

    id = serializers.IntegerField(source="pk")
    label = serializers.CharField()  # type: ignore[assignment]
    title = serializers.CharField()
    state = serializers.ChoiceField(choices=PieceState.choices)
    made_on = serializers.DateField()
    size = serializers.SerializerMethodField(help_text="Height first.")
    technique = serializers.SerializerMethodField()
    pours = serializers.SerializerMethodField()
    price = MoneyShown(allow_null=True, help_text="Asking price, tax included.")
    cost = MoneyShown(allow_null=True, help_text="Materials, labour and overhead.")

    def get_size(self, piece: Piece) -> str:
        shown: Shown = self.context["shown"]
        return sizes_in_cm(_pours(piece), decimal_comma=shown.decimal_comma)

    def get_technique(self, piece: Piece) -> str:
        return techniques(_pours(piece))

    def get_pours(self, piece: Piece) -> list[int]:
        return [pour.pk for pour in _pours(piece)]


class PriceShape(Shape):
    """What is asked for a piece."""

    price = MoneyShown(allow_null=True, help_text="Asking price, tax included.")


class StepShape(Shape):
    """A change of state."""

    from_state = serializers.CharField()
    to_state = serializers.CharField()
    on = serializers.DateField()
    recorded_at = serializers.DateTimeField()
    recorded_by = serializers.CharField(source="recorded_by.username")
    note = serializers.CharField()


class PieceDetailShape(PieceShape):
    """One piece with its history and, for those who may see it, its cost sheet."""

    description = serializers.CharField()
    size_note = serializers.CharField()
    steps = StepShape(many=True, source="steps.all")
    market_value = MoneyShown(allow_null=True)
    cost_sheet = CostSheetShape(required=False)


class PieceList(PieceView):
    query = PiecesAsked
    is_list = True

    @extend_schema(
        operation_id="pieces_list",
        parameters=[PiecesAsked],
        responses={200: PieceShape(many=True), **REFUSED},
    )
    def get(self, request: Request) -> Response:
        """Pieces, newest first unless asked otherwise."""
        asked = self.asked
        found = chosen_pieces(
            state=asked.get("state", HERE),
            technique=asked.get("technique"),
            year=asked.get("year"),
            words=asked.get("search", ""),
            sort=asked.get("order", "-made"),
        )
        return self.paged(PieceShape, found)

    def paginate_queryset(self, queryset: Any) -> Any:
        """A page with the cost of each piece, in the same few queries however many there are."""
        page: Page[Piece] | list[Piece] = super().paginate_queryset(queryset) or []
        costs = cost_summaries(page) if self.person.sees_money else {}
        for piece in page:
            piece.cost = costs[piece.pk].whole if piece.pk in costs else None  # type: ignore[attr-defined]
        return page

    @extend_schema(
        operation_id="pieces_make", request=PieceSaid, responses={201: PieceDetailShape, **REFUSED_TO_WRITE}
    )
    def post(self, request: Request) -> Response:
        """Make a piece. Sent again it is refused, because a pour belongs to one piece only."""
        made = make_piece(**self.said(PieceSaid), **self.facts)
        return self.one(PieceDetailShape, told(made.pk, with_cost=self.person.sees_money), status=201)


class PieceDetail(PieceView):
    @extend_schema(operation_id="pieces_read", responses={200: PieceDetailShape, **REFUSED})
    def get(self, request: Request, pk: int) -> Response:
        """One piece with its history and its cost sheet."""
        return self.one(PieceDetailShape, told(pk, with_cost=self.person.sees_money))


class PieceMoveOn(PieceView):
    @extend_schema(
        operation_id="pieces_move_on", request=StepSaid, responses={200: PieceDetailShape, **REFUSED_TO_WRITE}
    )
    def post(self, request: Request, pk: int) -> Response:
        """Move a piece a step on or back. Sent again it is refused: the piece has moved already."""
        piece = get_object_or_404(Piece, pk=pk)
        move_on(piece=piece, **self.said(StepSaid), **self.facts)
        return self.one(PieceDetailShape, told(pk, with_cost=self.person.sees_money))


class PiecePrice(PieceView):
    permission_classes = [SeesMoney]

    @extend_schema(
        operation_id="pieces_price_read", responses={200: PriceShape, **REFUSED}, parameters=[ENTITY_TAG]
    )
    def get(self, request: Request, pk: int) -> Response:
        """The asking price alone, with an `ETag` for whoever sets another one."""
        seen = last_change(Piece, pk, fields=["price"])
        answer = self.one(PriceShape, get_object_or_404(Piece, pk=pk))
        answer.headers["ETag"] = tag(seen)
        return answer

    @extend_schema(
        operation_id="pieces_price",
        request=PriceSaid,
        responses={200: PieceDetailShape, **REFUSED_TO_WRITE},
        parameters=[IF_MATCH],
    )
    def post(self, request: Request, pk: int) -> Response:
        """Set the asking price, or take it off. Sent again it changes nothing."""
        piece = get_object_or_404(Piece, pk=pk)
        set_price(piece=piece, price=self.said(PriceSaid)["price"], seen=self.seen)
        return self.one(PieceDetailShape, told(pk, with_cost=self.person.sees_money))


def told(pk: int, *, with_cost: bool) -> Piece:
    """A piece with everything its shape shows."""
    piece: Piece = get_object_or_404(with_parts(Piece.objects.prefetch_related("steps__recorded_by")), pk=pk)
    sheet = cost_sheet(piece) if with_cost else None
    piece.cost_sheet = sheet  # type: ignore[attr-defined]
    piece.cost = sheet.summary.whole if sheet else None  # type: ignore[attr-defined]
    return piece


def _pours(piece: Piece) -> list[Pour]:
    return [part.pour for part in piece.parts.all()]
