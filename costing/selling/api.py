"""Sales, selling routes, and the price list. All of it is money, so helpers without it are refused."""

from typing import Any

from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from costing.papers.queries import Order, price_list
from costing.pieces.api.base import PieceView
from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.pricing.models import SalesChannel
from costing.selling.actions.sales import sell
from costing.selling.models import Sale
from inventory.ledger.api.base import Days, Named, between
from studio.accounts.permissions import SeesMoney
from studio.api.fields import (
    DecimalText,
    Money,
    MoneyAmount,
    RequestSerializer,
    ResponseSerializer,
    RowNumber,
    WholeNumber,
)
from studio.api.views import KEY_HEADER, REFUSED, REFUSED_TO_WRITE, QuerySerializer

LISTED = (State.FOR_SALE, State.RESERVED, State.FINISHED)


class SalesQuery(Days):
    """What the list may be asked for."""

    channel = WholeNumber(least=1, required=False)
    piece = WholeNumber(least=1, required=False)
    returned = serializers.BooleanField(
        required=False, help_text="Only returned sales, or only those not returned."
    )


class SaleRequest(RequestSerializer):
    """A sale. The price is what the buyer paid, tax included."""

    piece = RowNumber(Piece.objects.all())
    channel = RowNumber(SalesChannel.objects.filter(is_active=True))
    price = Money()
    on = serializers.DateField()
    note = serializers.CharField(required=False, max_length=200, allow_blank=True, default="")


class SaleResponse(ResponseSerializer):
    """One sale: what the buyer paid, and what tax and the route took."""

    id = serializers.IntegerField(source="pk")
    piece = serializers.IntegerField(source="piece_id")
    title = serializers.CharField(source="piece.title")
    channel = Named()
    sold_on = serializers.DateField()
    returned_on = serializers.DateField(allow_null=True)
    note = serializers.CharField()
    posting = serializers.IntegerField(source="posting_id")
    price = MoneyAmount()
    tax = MoneyAmount()
    commission = MoneyAmount()
    card_fee = MoneyAmount()
    fixed_fee = MoneyAmount()
    net_proceeds = MoneyAmount(help_text="The price less tax and fees.")


class ChannelResponse(Named):
    """Where work is sold, and what that takes."""

    commission = DecimalText(help_text="As a fraction of one.")
    commission_before_tax = serializers.BooleanField()
    card_rate = DecimalText(help_text="As a fraction of one.")
    fixed_fee = MoneyAmount()
    is_active = serializers.BooleanField()


class ListQuery(QuerySerializer):
    """What the price list may be asked for."""

    state = serializers.ChoiceField(  # named once, when this is read: in English like the rest of the API's papers
        required=False, choices=[(state.value, state.value.replace("_", " ")) for state in LISTED]
    )
    technique = WholeNumber(least=1, required=False)
    order = serializers.ChoiceField(required=False, choices=[order.value for order in Order])


class ListRowResponse(ResponseSerializer):
    """One row of the price list. Sizes stand height first."""

    piece = serializers.IntegerField(source="piece.pk")
    code = serializers.CharField(source="row.code")
    title = serializers.CharField(source="row.title")
    size_cm = serializers.CharField(source="row.size_cm")
    size_in = serializers.CharField(source="row.size_in")
    technique = serializers.CharField(source="row.technique")
    year = serializers.CharField(source="row.year")
    note = serializers.CharField(source="row.note")
    price = MoneyAmount(source="piece.price", help_text="Tax included.")
    price_shown = serializers.CharField(source="row.price")


class SaleList(PieceView):
    permission_classes = [SeesMoney]
    query = SalesQuery
    is_list = True

    @extend_schema(
        operation_id="sales_list",
        parameters=[SalesQuery],
        responses={200: SaleResponse(many=True), **REFUSED},
    )
    def get(self, request: Request) -> Response:
        """Sales, newest first."""
        found = between(sales(), "sold_on", self.asked)
        for name in ("channel", "piece"):
            if name in self.asked:
                found = found.filter(**{name: self.asked[name]})
        if "returned" in self.asked:
            found = found.filter(returned_on__isnull=not self.asked["returned"])
        return self.paged(SaleResponse, found.order_by("-sold_on", "-pk"))

    @extend_schema(
        operation_id="sales_record",
        parameters=[KEY_HEADER],
        request=SaleRequest,
        responses={201: SaleResponse, 200: SaleResponse, **REFUSED_TO_WRITE},
    )
    def post(self, request: Request) -> Response:
        """Record a sale: a piece is sold once."""
        key, said = self.key, self.said(SaleRequest)
        status = self.status_for(key)
        made = sell(submission=self.submission(on=said.pop("on"), key=key), **said)
        return self.one(SaleResponse, sales().get(pk=made.pk), status=status)


class SaleDetail(PieceView):
    permission_classes = [SeesMoney]

    @extend_schema(operation_id="sales_read", responses={200: SaleResponse, **REFUSED})
    def get(self, request: Request, pk: int) -> Response:
        """One sale."""
        return self.one(SaleResponse, get_object_or_404(sales(), pk=pk))


class ChannelList(PieceView):
    permission_classes = [SeesMoney]
    is_list = True

    @extend_schema(
        operation_id="selling_channels_list", responses={200: ChannelResponse(many=True), **REFUSED}
    )
    def get(self, request: Request) -> Response:
        """Selling routes by name."""
        return self.paged(ChannelResponse, SalesChannel.objects.order_by("name", "pk"))


class PriceList(PieceView):
    permission_classes = [SeesMoney]
    query = ListQuery
    is_list = True

    @extend_schema(
        operation_id="price_list",
        parameters=[ListQuery],
        responses={200: ListRowResponse(many=True), **REFUSED},
    )
    def get(self, request: Request) -> Response:
        """The rows of the price list; pieces without a price are left out."""
        asked = self.asked
        found = price_list(
            states=[asked.get("state", State.FOR_SALE)],
            technique=asked.get("technique"),
            order=Order(asked.get("order", Order.TITLE)),
            photos=False,
        )
        rows = [{"piece": piece, "row": row} for piece, row in zip(found.pieces, found.rows, strict=True)]
        return self.paged(ListRowResponse, rows)


def sales() -> Any:
    """Sales with everything their shape shows."""
    return Sale.objects.select_related("piece", "channel")
