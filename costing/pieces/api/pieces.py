"""Pieces: chosen, made of pours, moved on and priced."""

from typing import Any

from django.core.paginator import Page
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from costing.cost_sheets.api import CostSheetResponse
from costing.cost_sheets.queries import cost_summaries
from costing.papers.queries import sizes_in_cm, techniques, with_parts
from costing.pieces.actions.pieces import PieceFacts, make_piece, move_on, set_price
from costing.pieces.api.base import PieceView
from costing.pieces.models import Piece, PieceState
from costing.pieces.views.piece_rows import ALL, HERE, SORTS, chosen_pieces
from costing.selling.queries import cost_sheet_with_sale
from inventory.ledger.api.base import LONGEST_NOTES
from inventory.sessions.models import Pour
from studio.accounts.permissions import SeesMoney
from studio.api.fields import (
    Money,
    MoneyAmount,
    RequestSerializer,
    ResponseSerializer,
    RowNumber,
    WholeNumber,
)
from studio.api.views import ENTITY_TAG, IF_MATCH, REFUSED, REFUSED_TO_WRITE, QuerySerializer, tag
from studio.auditing.queries import last_change_number
from studio.preferences.formatting import Formatter

MOST_POURS = 50
ORDERS = [sign + order for order in SORTS for sign in ("", "-")]


class PiecesQuery(QuerySerializer):
    """What the list may be asked for."""

    money_orders = frozenset({"price"})

    search = serializers.CharField(
        required=False, max_length=100, help_text="Words in the title, surface or session."
    )
    state = serializers.ChoiceField(
        required=False,
        choices=[HERE, ALL, *PieceState.values],
        help_text="Default: all that are still in the studio.",
    )
    technique = WholeNumber(least=1, required=False)
    year = WholeNumber(least=1, most=9999, required=False)
    order = serializers.ChoiceField(required=False, choices=ORDERS, help_text="A minus reverses the order.")


class PieceRequest(RequestSerializer):
    """A new piece of one good pour or several."""

    title = serializers.CharField(max_length=160)
    pours = serializers.ListField(
        child=RowNumber(Pour.objects.all()), allow_empty=False, min_length=1, max_length=MOST_POURS
    )
    description = serializers.CharField(
        required=False, max_length=LONGEST_NOTES, allow_blank=True, default=""
    )
    size_note = serializers.CharField(required=False, max_length=60, allow_blank=True, default="")


class StepRequest(RequestSerializer):
    """A step on or back. `anyway` finishes a piece before its drying time is over."""

    to = serializers.ChoiceField(choices=PieceState.choices)
    on = serializers.DateField()
    note = serializers.CharField(required=False, max_length=300, allow_blank=True, default="")
    anyway = serializers.BooleanField(default=False)


class PriceRequest(RequestSerializer):
    """The asking price, tax included; null takes it off."""

    price = Money(allow_null=True)


class PieceResponse(ResponseSerializer):
    """A piece in a line."""

    id = serializers.IntegerField(source="pk")
    label = serializers.CharField()  # type: ignore[assignment]
    title = serializers.CharField()
    state = serializers.ChoiceField(choices=PieceState.choices)
    made_on = serializers.DateField()
    size = serializers.SerializerMethodField(help_text="Height first.")
    technique = serializers.SerializerMethodField()
    pours = serializers.SerializerMethodField()
    price = MoneyAmount(allow_null=True, help_text="Asking price, tax included.")
    cost = MoneyAmount(allow_null=True, help_text="Materials, labour and overhead.")

    def get_size(self, piece: Piece) -> str:
        formatter: Formatter = self.context["formatter"]
        return sizes_in_cm(_pours(piece), decimal_comma=formatter.decimal_comma)

    def get_technique(self, piece: Piece) -> str:
        return techniques(_pours(piece))

    def get_pours(self, piece: Piece) -> list[int]:
        return [pour.pk for pour in _pours(piece)]


class PriceResponse(ResponseSerializer):
    """What is asked for a piece."""

    price = MoneyAmount(allow_null=True, help_text="Asking price, tax included.")


class StepResponse(ResponseSerializer):
    """A change of state."""

    from_state = serializers.CharField()
    to_state = serializers.CharField()
    on = serializers.DateField()
    recorded_at = serializers.DateTimeField()
    recorded_by = serializers.CharField(source="recorded_by.username")
    note = serializers.CharField()


class PieceDetailResponse(PieceResponse):
    """One piece with its history and, for those who may see it, its cost sheet."""

    description = serializers.CharField()
    size_note = serializers.CharField()
    steps = StepResponse(many=True, source="steps.all")
    market_value = MoneyAmount(allow_null=True)
    cost_sheet = CostSheetResponse(required=False)


class PieceList(PieceView):
    query = PiecesQuery
    is_list = True

    @extend_schema(
        operation_id="pieces_list",
        parameters=[PiecesQuery],
        responses={200: PieceResponse(many=True), **REFUSED},
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
        return self.paged(PieceResponse, found)

    def paginate_queryset(self, queryset: Any) -> Any:
        """A page with the cost of each piece, in the same few queries however many there are."""
        page: Page[Piece] | list[Piece] = super().paginate_queryset(queryset) or []
        costs = cost_summaries(page) if self.person.sees_money else {}
        for piece in page:
            piece.cost = costs[piece.pk].whole if piece.pk in costs else None  # type: ignore[attr-defined]
        return page

    @extend_schema(
        operation_id="pieces_make",
        request=PieceRequest,
        responses={201: PieceDetailResponse, **REFUSED_TO_WRITE},
    )
    def post(self, request: Request) -> Response:
        """Make a piece. Sent again it is refused, because a pour belongs to one piece only."""
        made = make_piece(facts=PieceFacts(**self.said(PieceRequest)), submission=self.submission())
        return self.one(PieceDetailResponse, told(made.pk, with_cost=self.person.sees_money), status=201)


class PieceDetail(PieceView):
    @extend_schema(operation_id="pieces_read", responses={200: PieceDetailResponse, **REFUSED})
    def get(self, request: Request, pk: int) -> Response:
        """One piece with its history and its cost sheet."""
        return self.one(PieceDetailResponse, told(pk, with_cost=self.person.sees_money))


class PieceMoveOn(PieceView):
    @extend_schema(
        operation_id="pieces_move_on",
        request=StepRequest,
        responses={200: PieceDetailResponse, **REFUSED_TO_WRITE},
    )
    def post(self, request: Request, pk: int) -> Response:
        """Move a piece a step on or back. Sent again it is refused: the piece has moved already."""
        piece = get_object_or_404(Piece, pk=pk)
        step = self.said(StepRequest)
        move_on(piece=piece, submission=self.submission(on=step.pop("on")), **step)
        return self.one(PieceDetailResponse, told(pk, with_cost=self.person.sees_money))


class PiecePrice(PieceView):
    permission_classes = [SeesMoney]

    @extend_schema(
        operation_id="pieces_price_read", responses={200: PriceResponse, **REFUSED}, parameters=[ENTITY_TAG]
    )
    def get(self, request: Request, pk: int) -> Response:
        """The asking price alone, with an `ETag` for whoever sets another one."""
        seen = last_change_number(Piece, pk, fields=["price"])
        answer = self.one(PriceResponse, get_object_or_404(Piece, pk=pk))
        answer.headers["ETag"] = tag(seen)
        return answer

    @extend_schema(
        operation_id="pieces_price",
        request=PriceRequest,
        responses={200: PieceDetailResponse, **REFUSED_TO_WRITE},
        parameters=[IF_MATCH],
    )
    def post(self, request: Request, pk: int) -> Response:
        """Set the asking price, or take it off. Sent again it changes nothing."""
        piece = get_object_or_404(Piece, pk=pk)
        set_price(
            piece=piece, price=self.said(PriceRequest)["price"], submission=self.submission(), seen=self.seen
        )
        return self.one(PieceDetailResponse, told(pk, with_cost=self.person.sees_money))


def told(pk: int, *, with_cost: bool) -> Piece:
    """A piece with everything its shape shows."""
    piece: Piece = get_object_or_404(with_parts(Piece.objects.prefetch_related("steps__recorded_by")), pk=pk)
    sheet = cost_sheet_with_sale(piece) if with_cost else None
    piece.cost_sheet = sheet  # type: ignore[attr-defined]
    piece.cost = sheet.summary.whole if sheet else None  # type: ignore[attr-defined]
    return piece


def _pours(piece: Piece) -> list[Pour]:
    return [part.pour for part in piece.parts.all()]
