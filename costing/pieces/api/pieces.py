"""Pieces for programs: chosen, made of pours, moved from state to state, and priced."""

from collections.abc import Callable
from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from costing.brought_in.actions import bring_in_pieces
from costing.cost_sheets.queries import cost_summaries
from costing.papers.queries import sizes_in_cm
from costing.pieces.actions.pieces import PieceFacts, describe_piece, make_piece, move_on, set_price
from costing.pieces.actions.together import work_on_pieces
from costing.pieces.api.brought_in import BroughtInRequest
from costing.pieces.api.descriptions import DescriptionRequest
from costing.pieces.api.photos import PiecePhotos
from costing.pieces.api.together import TogetherRequest
from costing.pieces.api.work import PieceWork
from costing.pieces.filters import PieceFilter
from costing.pieces.models import DESCRIPTION, Piece, PieceState
from costing.pieces.queries import standing_pieces, with_parts
from costing.selling.actions import bring_back_piece, scrape_piece, write_off_piece
from inventory.ledger.models import Reason
from inventory.sessions.models import Pour
from studio.accounts.permissions import SeesMoney
from studio.api.fields import MoneyField, MoneyResponseField, RowField, RowNumbersField
from studio.api.schema import ENTITY_TAG, IF_MATCH
from studio.api.serializers import RequestSerializer, ResponseSerializer
from studio.api.viewsets import ReadViewSet, change_seen, row_action

MOST_POURS = 50


class PieceRequest(DescriptionRequest):
    """A new piece of one good pour or several."""

    pours = serializers.ListField(
        child=RowField(Pour.objects.all()), allow_empty=False, min_length=1, max_length=MOST_POURS
    )


class StatusRequest(RequestSerializer):
    """A step on or back. `anyway` finishes a piece before its drying time is over."""

    to = serializers.ChoiceField(choices=PieceState.choices)
    on = serializers.DateField()
    note = serializers.CharField(required=False, max_length=300, allow_blank=True, default="")
    anyway = serializers.BooleanField(default=False)


class LeavingRequest(RequestSerializer):
    """A piece that is scraped, or brought back."""

    on = serializers.DateField()
    note = serializers.CharField(required=False, max_length=200, allow_blank=True, default="")


class PieceWriteOffRequest(LeavingRequest):
    """A piece that is written off."""

    reason = RowField(Reason.objects.filter(kind=Reason.Kind.LOSS), help_text="A reason of the kind “loss”.")


class PriceRequest(RequestSerializer):
    """The asking price, tax included; null takes it off."""

    price = MoneyField(allow_null=True)


class PieceResponse(ResponseSerializer):
    """A piece."""

    id = serializers.IntegerField(source="pk")
    number = serializers.CharField(help_text="The number of its first canvas: P0012.")
    label = serializers.CharField(  # type: ignore[assignment]
        help_text="What is written on its back or backs, from the first pour on: P0012–P0015."
    )
    title = serializers.CharField()
    state = serializers.ChoiceField(choices=PieceState.choices)
    made_on = serializers.DateField()
    size = serializers.SerializerMethodField(help_text="Height first.")
    technique = serializers.CharField()
    series = serializers.CharField()
    series_number = serializers.IntegerField(allow_null=True)
    edition = serializers.CharField()
    size_note = serializers.CharField(help_text="Of a set: “set of four”.")
    year = serializers.IntegerField(source="shown_year", help_text="As papers show it.")
    pours = RowNumbersField()
    price = MoneyResponseField(allow_null=True, help_text="Asking price, tax included.")
    cost = MoneyResponseField(allow_null=True, help_text="Materials, labour and overhead.")

    def get_size(self, piece: Piece) -> str:
        return sizes_in_cm(piece.pours, decimal_comma=self.context["formatter"].decimal_comma)


class PriceResponse(ResponseSerializer):
    """What is asked for a piece."""

    price = MoneyResponseField(allow_null=True, help_text="Asking price, tax included.")


class DescriptionResponse(ResponseSerializer):
    """What is said of a piece; a `year` of null is that of its pouring."""

    title = serializers.CharField()
    description = serializers.CharField()
    size_note = serializers.CharField()
    series = serializers.CharField()
    series_number = serializers.IntegerField(allow_null=True)
    edition = serializers.CharField()
    year = serializers.IntegerField(allow_null=True)


class StepResponse(ResponseSerializer):
    """A change of state."""

    from_state = serializers.CharField()
    to_state = serializers.CharField()
    on = serializers.DateField()
    recorded_at = serializers.DateTimeField()
    recorded_by = serializers.CharField(source="recorded_by.username")
    note = serializers.CharField()


class PieceDetailResponse(PieceResponse):
    """One piece with its history. Its cost sheet has an address of its own."""

    description = serializers.CharField()
    steps = StepResponse(many=True, source="steps.all")
    market_value = MoneyResponseField(allow_null=True)


class TogetherResponse(ResponseSerializer):
    """The pieces of one request, in its order."""

    pieces = PieceResponse(many=True)


class PieceViewSet(PiecePhotos, PieceWork, ReadViewSet):
    """Pieces, newest first unless sorted otherwise."""

    serializer_class = PieceResponse
    detail_serializer_class = PieceDetailResponse
    request_serializer_class = PieceRequest
    filterset_class = PieceFilter

    def get_queryset(self) -> Any:
        # One whose session was reversed is in no list, and can still be read.
        pieces = (
            standing_pieces()
            if self.action == "list"
            else Piece.objects.prefetch_related("steps__recorded_by")
        )
        return with_parts(pieces)

    def paginate_queryset(self, queryset: Any) -> Any:
        return self._with_costs(super().paginate_queryset(queryset) or [])

    def details_of(self, row: Piece) -> Any:
        return self._with_costs([row])[0]

    def _with_costs(self, pieces: list[Any]) -> list[Any]:
        """Pieces with the cost of each, in the same few queries however many there are."""
        costs = cost_summaries(pieces) if self.user.sees_money else {}
        for piece in pieces:
            piece.cost = costs[piece.pk].whole if piece.pk in costs else None
        return pieces

    def create(self, request: Request) -> Response:
        """Make a piece. Sent again it is refused, because a pour belongs to one piece only."""
        made = make_piece(facts=PieceFacts(**self.read_body()), submission=self.submission())
        return self.answer(self.get_queryset().get(pk=made.pk), status=201)

    @extend_schema(parameters=[ENTITY_TAG])
    @action(
        detail=True,
        methods=["get"],
        url_path="description",
        request_serializer_class=DescriptionRequest,
        detail_serializer_class=DescriptionResponse,
        post_status=200,
    )
    def about(self, request: Request, pk: int) -> Response:
        """What is said of a piece, with an `ETag` for whoever changes it."""
        return self.tagged(self.get_object, fields=DESCRIPTION)

    @extend_schema(parameters=[ENTITY_TAG, IF_MATCH])
    @about.mapping.post
    def describe(self, request: Request, pk: int) -> Response:
        """Say it anew, whatever has become of the piece. Sent again it changes nothing."""
        piece = self.get_object()
        for name, value in self.read_body().items():
            setattr(piece, name, value)
        describe_piece(piece, seen=change_seen(request), submission=self.submission())
        return self.tagged(self.get_object, fields=DESCRIPTION)

    @action(
        detail=False,
        methods=["post"],
        has_key=True,
        request_serializer_class=TogetherRequest,
        detail_serializer_class=TogetherResponse,
        post_status=200,
    )
    def together(self, request: Request) -> Response:
        """Make pieces of pours and take them and others on together: all of it or nothing."""
        body = self.read_body()
        done = work_on_pieces(submission=self.submission(on=body.pop("on")), **body)
        rows = with_parts(Piece.objects.all()).in_bulk([piece.pk for piece in done])
        pieces = self._with_costs([rows[piece.pk] for piece in done])
        return Response(self.get_serializer({"pieces": pieces}).data)

    @action(
        detail=False,
        methods=["post"],
        url_path="brought-in",
        has_key=True,
        permission_classes=[SeesMoney],
        request_serializer_class=BroughtInRequest,
        detail_serializer_class=TogetherResponse,
    )
    def bring_in(self, request: Request) -> Response:
        """Bring in pieces that were finished before the books began, at a stated cost: all of them or none."""
        body = self.read_body()
        done = bring_in_pieces(pieces=body["pieces"], submission=self.submission(on=body["on"]))
        rows = with_parts(Piece.objects.all()).in_bulk([piece.pk for piece in done])
        pieces = self._with_costs([rows[piece.pk] for piece in done])
        return Response(self.get_serializer({"pieces": pieces}).data, status=201)

    @row_action(request_serializer_class=StatusRequest)
    def status(self, request: Request, pk: int) -> Response:
        """Move a piece to its next state, or back. Sent again it is refused: it has been moved already."""
        piece, body = self.get_object(), self.read_body()
        move_on(piece=piece, submission=self.submission(on=body.pop("on")), **body)
        return self.answer(self.get_object())

    @row_action(url_path="write-off", has_key=True, request_serializer_class=PieceWriteOffRequest)
    def write_off(self, request: Request, pk: int) -> Response:
        """Write a piece off as a loss: its pours count as failed."""
        return self._leave(write_off_piece)

    @row_action(request_serializer_class=LeavingRequest)
    def scrape(self, request: Request, pk: int) -> Response:
        """Scrape a piece: its pours count as failed, and can be poured over. Sent again it is refused."""
        piece, body = self.get_object(), self.read_body()
        scrape_piece(piece=piece, submission=self.submission(on=body.pop("on")), **body)
        return self.answer(self.get_object())

    @row_action(url_path="bring-back", has_key=True, request_serializer_class=LeavingRequest)
    def bring_back(self, request: Request, pk: int) -> Response:
        """Bring back a piece that was written off, scraped, given away or kept by mistake."""
        return self._leave(bring_back_piece)

    def _leave(self, act: Callable[..., Piece]) -> Response:
        piece = self.get_object()
        return self.post_once(
            lambda body: act(piece=piece, submission=self.submission(on=body.pop("on")), **body)
        )

    @extend_schema(parameters=[ENTITY_TAG])
    @action(
        detail=True,
        methods=["get"],
        permission_classes=[SeesMoney],
        request_serializer_class=PriceRequest,
        detail_serializer_class=PriceResponse,
        post_status=200,
    )
    def price(self, request: Request, pk: int) -> Response:
        """The asking price alone, with an `ETag` for whoever sets another one."""
        return self.tagged(self.get_object, fields=["price"])

    @extend_schema(parameters=[ENTITY_TAG, IF_MATCH])
    @price.mapping.post
    def set_price(self, request: Request, pk: int) -> Response:
        """Set the asking price, or take it off. Sent again it changes nothing."""
        piece, body = self.get_object(), self.read_body()
        set_price(piece=piece, price=body["price"], seen=change_seen(request), submission=self.submission())
        return self.tagged(self.get_object, fields=["price"])


VIEWSETS = {"pieces": PieceViewSet}
