"""Sales for programs. All of it is money, so helpers without it are refused."""

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from costing.pieces.models import Piece
from costing.pricing.models import SalesChannel
from costing.selling.actions import sell
from costing.selling.filters import SaleFilter
from costing.selling.models import Sale
from inventory.ledger.models import Posting
from studio.accounts.permissions import SeesMoney
from studio.api.fields import MillionthsField, MoneyField, MoneyResponseField, RowField
from studio.api.serializers import NamedResponse, RequestSerializer, ResponseSerializer
from studio.api.viewsets import ReadViewSet


class SaleRequest(RequestSerializer):
    """A sale. The price is what the buyer paid, tax included."""

    piece = RowField(Piece.objects.all())
    channel = RowField(SalesChannel.objects.filter(is_active=True))
    price = MoneyField()
    on = serializers.DateField()
    note = serializers.CharField(required=False, max_length=200, allow_blank=True, default="")


class SaleResponse(ResponseSerializer):
    """One sale: what the buyer paid, and what tax and fees took."""

    id = serializers.IntegerField(source="pk")
    piece = serializers.IntegerField(source="piece_id")
    number = serializers.CharField(source="piece.number", help_text="The number of its first canvas.")
    title = serializers.CharField(source="piece.title")
    channel = NamedResponse()
    sold_on = serializers.DateField()
    returned_on = serializers.DateField(allow_null=True)
    note = serializers.CharField()
    posting = serializers.IntegerField(source="posting_id")
    price = MoneyResponseField()
    tax_rate = MillionthsField(help_text="Tax that was included in the price, as a fraction of one.")
    tax = MoneyResponseField()
    commission = MoneyResponseField()
    card_fee = MoneyResponseField()
    fixed_fee = MoneyResponseField()
    net_proceeds = MoneyResponseField(help_text="The price less tax and fees.")


class SaleViewSet(ReadViewSet):
    """Sales, newest first."""

    permission_classes = [SeesMoney]
    queryset = (
        Sale.objects.select_related("piece", "channel")
        .prefetch_related("piece__parts__pour")
        .order_by("-sold_on", "-pk")
    )
    serializer_class = SaleResponse
    request_serializer_class = SaleRequest
    filterset_class = SaleFilter
    has_key = True
    keyed_models = (Posting,)

    def create(self, request: Request) -> Response:
        """Record a sale: a piece is sold once."""
        return self.post_once(lambda body: sell(submission=self.submission(on=body.pop("on")), **body))


VIEWSETS = {"sales": SaleViewSet}
