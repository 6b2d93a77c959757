"""Market days for programs: planned, packed for, sold at, counted, and what they came to."""

from typing import Any

from django.utils.translation import gettext_lazy
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from costing.markets.actions.counting import count_cash
from costing.markets.actions.packing import LONGEST_BOX, bring_home, mark_missing, pack, unpack
from costing.markets.actions.selling import CARD, CASH, quick_sale, undo_quick_sale
from costing.markets.models import MarketDay, PackedPiece
from costing.markets.queries import market_days, packed_rows, result_of, results_of
from costing.pieces.models import Piece
from costing.pricing.models import SalesChannel
from costing.pricing.queries import price_advice
from costing.selling.actions.sales import MOST_TOGETHER
from costing.selling.api.sales import PieceSoldRequest
from costing.selling.models import Sale
from studio.accounts.permissions import IsWorker, OwnerWrites, SeesMoney
from studio.api.fields import MillionthsField, MoneyField, MoneyResponseField, RowField
from studio.api.rows import RowRequest, RowsViewSet
from studio.api.serializers import AskingRequest, ListOf, NamedResponse, RequestSerializer, ResponseSerializer
from studio.api.viewsets import LONGEST_KEY, ReadViewSet, StudioViewSet, idempotency_key, row_action
from studio.errors import InputError
from studio.translation import _

MOST_PACKED = 500
CHANNELS = SalesChannel.objects.filter(is_active=True)


class MarketDayRequest(RowRequest):
    """A market day. Travel is a distance, in thousandths of its unit, with a rate for a whole one, or a sum."""

    cash_channel = RowField(CHANNELS, required=False, allow_null=True)
    card_channel = RowField(CHANNELS, required=False, allow_null=True)

    class Meta:
        model = MarketDay
        fields = (
            "name", "held_on", "place", "cash_channel", "card_channel", "pitch_fee", "distance",
            "distance_unit", "distance_rate", "travel_sum", "minutes", "till_float", "notes",
        )  # fmt: skip


class MarketDayResponse(ResponseSerializer):
    """A market day and what it came to. Everything sold that day through its two channels is its own."""

    id = serializers.IntegerField(source="market.pk")
    name = serializers.CharField(source="market.name")
    held_on = serializers.DateField(source="market.held_on")
    place = serializers.CharField(source="market.place")
    notes = serializers.CharField(source="market.notes")
    cash_channel = NamedResponse(source="market.cash_channel", allow_null=True)
    card_channel = NamedResponse(source="market.card_channel", allow_null=True)
    till_float = MoneyResponseField(source="market.till_float")
    minutes = serializers.IntegerField(source="market.minutes")
    sold = serializers.IntegerField(source="result.sold")
    cash = MoneyResponseField(source="result.cash")
    card = MoneyResponseField(source="result.card")
    takings = MoneyResponseField(source="result.takings", help_text="Gross: what buyers paid.")
    paid_ahead = MoneyResponseField(
        source="result.ahead",
        help_text="Of the takings: paid for commissions not sold yet, less what was paid earlier for those sold.",
    )
    tax = MoneyResponseField(source="result.tax")
    fees = MoneyResponseField(source="result.fees")
    cost_of_sales = MoneyResponseField(source="result.cost")
    contribution = MoneyResponseField(
        source="result.contribution", help_text="Net proceeds less the cost of the pieces sold."
    )
    pitch_fee = MoneyResponseField(source="result.pitch")
    travel = MoneyResponseField(source="result.travel")
    wages = MoneyResponseField(source="result.wages", help_text="The hours at the hourly rate of the day.")
    profit = MoneyResponseField(source="result.profit")
    per_hour = MoneyResponseField(
        source="result.per_hour", allow_null=True, help_text="What an hour earned; null without hours."
    )
    break_even_takings = MoneyResponseField(source="result.break_even_takings", allow_null=True)
    margin_of_safety = MoneyResponseField(source="result.safety", allow_null=True)
    margin_of_safety_share = MillionthsField(
        source="result.safety_share", allow_null=True, help_text="As a fraction of the takings."
    )


class PackingRequest(RequestSerializer):
    """Pieces that go into a box for the day. One that was in another box moves."""

    box = serializers.CharField(max_length=LONGEST_BOX)
    pieces = serializers.ListField(
        child=RowField(Piece.objects.all()), allow_empty=False, max_length=MOST_PACKED
    )


class MissingRequest(RequestSerializer):
    """A packed piece was not there after the market, or has been found."""

    piece = RowField(Piece.objects.all())
    missing = serializers.BooleanField()


class UnpackRequest(RequestSerializer):
    """A piece that is not taken along after all."""

    piece = RowField(Piece.objects.all())


class PackedResponse(ResponseSerializer):
    """A packed piece and what became of it."""

    piece = serializers.IntegerField(source="piece.pk")
    number = serializers.CharField(source="piece.number")
    title = serializers.CharField(source="piece.title")
    box = serializers.CharField(source="packed.box")
    sold = serializers.BooleanField(source="is_sold")
    missing = serializers.BooleanField(source="is_missing")


class PackingResponse(ResponseSerializer):
    """Everything that is packed for a market day."""

    packed = PackedResponse(many=True)


class QuickSaleRequest(AskingRequest):
    """Pieces sold to one buyer, for cash or by card. Prices are what was paid, tax included."""

    lines = ListOf(child=PieceSoldRequest(), allow_empty=False, max_length=MOST_TOGETHER)
    paid_by = serializers.ChoiceField(choices=[CASH, CARD])


class UndoRequest(RequestSerializer):
    """The key under which the sale was sent."""

    sale = serializers.CharField(max_length=LONGEST_KEY)


class QuickSaleResponse(ResponseSerializer):
    """The key that was sent, so that a device knows that its sale has arrived; and the pieces sold."""

    key = serializers.CharField()
    sale = serializers.IntegerField()
    pieces = serializers.ListField(child=serializers.IntegerField())


class CashCountRequest(RequestSerializer):
    """What was in the till."""

    counted = MoneyField()
    paid_out = MoneyField(default=0)
    note = serializers.CharField(max_length=200, required=False, allow_blank=True, default="")


class CashCountResponse(ResponseSerializer):
    """The cash counted, beside what was expected: float and cash takings, less what was paid out."""

    id = serializers.IntegerField(source="pk")
    counted_at = serializers.DateTimeField()
    expected = MoneyResponseField()
    counted = MoneyResponseField()
    paid_out = MoneyResponseField()
    difference = MoneyResponseField(help_text="Above zero: more than expected.")
    note = serializers.CharField()


AT_THE_STALL: dict[str, Any] = {
    "detail": True,
    "methods": ["post"],
    "permission_classes": [IsWorker],
    "has_key": True,
    "detail_serializer_class": QuickSaleResponse,
}


class MarketDayViewSet(RowsViewSet, ReadViewSet):
    """Market days, the latest first."""

    permission_classes = [OwnerWrites]
    serializer_class = MarketDayResponse
    request_serializer_class = MarketDayRequest
    row_model = MarketDay
    in_use = gettext_lazy(
        "A market day whose cash was counted stays. The sales of a deleted one stay as they are."
    )

    def get_queryset(self) -> Any:
        return market_days()

    def paginate_queryset(self, queryset: Any) -> Any:
        return results_of(super().paginate_queryset(queryset) or [])

    def details_of(self, row: Any) -> Any:
        return result_of(row) if isinstance(row, MarketDay) else row

    @action(
        detail=True,
        methods=["get"],
        permission_classes=[IsWorker],
        request_serializer_class=PackingRequest,
        detail_serializer_class=PackingResponse,
        post_status=200,
    )
    def packing(self, request: Request, pk: int) -> Response:
        """What is packed for the day, by box."""
        return self._packed()

    @packing.mapping.post
    def pack(self, request: Request, pk: int) -> Response:
        """Pack pieces. Sent again it changes nothing."""
        pack(market=self.get_object(), submission=self.submission(), **self.read_body())
        return self._packed()

    @row_action(
        permission_classes=[IsWorker],
        request_serializer_class=MissingRequest,
        detail_serializer_class=PackingResponse,
    )
    def missing(self, request: Request, pk: int) -> Response:
        """Say that a packed piece is missing, or was found. Sent again it changes nothing."""
        market, body = self.get_object(), self.read_body()
        packed = PackedPiece.objects.filter(market_day=market, piece=body["piece"]).select_related("piece")
        row = packed.first()
        if row is None:
            raise InputError(_("This piece is not packed for that day."), field="piece")
        mark_missing(packed=row, missing=body["missing"], submission=self.submission())
        return self._packed()

    @row_action(
        permission_classes=[IsWorker],
        request_serializer_class=UnpackRequest,
        detail_serializer_class=PackingResponse,
    )
    def unpack(self, request: Request, pk: int) -> Response:
        """Take a piece off the packing list. Sent again it changes nothing."""
        market, piece = self.get_object(), self.read_body()["piece"]
        row = PackedPiece.objects.filter(market_day=market, piece=piece).select_related("piece").first()
        if row is not None:
            unpack(packed=row, submission=self.submission())
        return self._packed()

    @extend_schema(request=None)
    @row_action(
        url_path="bring-home",
        permission_classes=[IsWorker],
        request_serializer_class=RequestSerializer,
        detail_serializer_class=PackingResponse,
    )
    def bring_home(self, request: Request, pk: int) -> Response:
        """Take everything back to the studio that is still in its box. Sent again it changes nothing."""
        bring_home(market=self.get_object(), submission=self.submission())
        return self._packed()

    def _packed(self) -> Response:
        market = self.get_object()
        return self.answer({"packed": packed_rows(market, result_of(market).lines)})

    @action(**AT_THE_STALL, request_serializer_class=QuickSaleRequest)
    def sales(self, request: Request, pk: int) -> Response:
        """Sell pieces at the stall, all of them or none: on the day of the market, whenever it is sent."""
        market, body = self.get_object(), self.read_body()
        sale = quick_sale(market=market, submission=self.submission(), **body)
        return self._sold(sale)

    @action(**AT_THE_STALL, request_serializer_class=UndoRequest, post_status=200)
    def undo(self, request: Request, pk: int) -> Response:
        """Undo a sale that you made at the stall: its pieces are for sale again, all of its fees come back."""
        market, body = self.get_object(), self.read_body()
        sale = undo_quick_sale(market=market, key=body["sale"], submission=self.submission())
        return self._sold(sale)

    def _sold(self, sale: Sale) -> Response:
        pieces = sale.lines.order_by("pk").values_list("piece_id", flat=True)
        answer = {"key": idempotency_key(self.request), "sale": sale.pk, "pieces": list(pieces)}
        return Response(self.get_serializer(answer).data, status=self.made_status)

    @action(
        detail=True,
        methods=["post"],
        url_path="cash-counts",
        permission_classes=[SeesMoney],
        has_key=True,
        request_serializer_class=CashCountRequest,
        detail_serializer_class=CashCountResponse,
    )
    def cash_counts(self, request: Request, pk: int) -> Response:
        """Count the cash after the market."""
        market, submission = self.get_object(), self.submission()
        count = count_cash(market=market, submission=submission, **self.read_body())
        return self.answer(count, status=self.made_status)


class FloorResponse(ResponseSerializer):
    """The lowest price of a piece through one channel, which covers its cost and the packing to come, no more."""

    channel = NamedResponse()
    floor = MoneyResponseField()


class FloorViewSet(StudioViewSet):
    """How far a price may be haggled down."""

    permission_classes = [SeesMoney]
    queryset = Piece.objects.all()
    serializer_class = FloorResponse
    pagination_class = None
    answers_many = True

    def retrieve(self, request: Request, pk: int) -> Response:
        """The lowest price of a piece today, by channel."""
        advice = price_advice(self.get_object(), on=self.submission().on)
        return Response(self.get_serializer(advice.channels, many=True).data)


VIEWSETS = {"market-days": MarketDayViewSet, "price-floors": FloorViewSet}
