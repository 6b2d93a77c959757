"""Sales channels and prices for programs."""

from typing import Any, ClassVar

from django.utils import timezone
from django.utils.translation import gettext_lazy
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema, extend_schema_view
from rest_framework import serializers
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request
from rest_framework.response import Response

from costing.pieces.calculations import SELLABLE
from costing.pieces.models import Piece
from costing.pieces.queries import standing_pieces, with_parts
from costing.pricing.actions import NewPrice, change_price_rules, set_prices
from costing.pricing.forms.prices import MOST_PIECES
from costing.pricing.methods import Method
from costing.pricing.models import FIGURES, ChannelTerms, Payment, PriceRules, SalesChannel
from costing.pricing.price_sheet import Market, PricedPiece, price_sheet, usual_method
from costing.pricing.terms import terms_on
from studio.accounts.permissions import SeesMoney
from studio.api.fields import MoneyField, MoneyResponseField, RowField
from studio.api.rows import OneRowViewSet, RowRequest, RowsViewSet
from studio.api.serializers import ListOf, RequestSerializer, ResponseSerializer
from studio.api.viewsets import ListViewSet
from studio.translation import _


class TermsResponse(ResponseSerializer):
    """What a channel takes from a day on. Null stays as it was before."""

    holds_from = serializers.DateField(allow_null=True, help_text="The first day; null from the beginning.")
    commission = MoneyResponseField(allow_null=True, help_text="As a fraction of one.")
    commission_before_tax = serializers.BooleanField(allow_null=True)
    card_rate = MoneyResponseField(allow_null=True, help_text="As a fraction of one.")
    fixed_fee = MoneyResponseField(allow_null=True)
    monthly_fee = MoneyResponseField(allow_null=True)


class SalesChannelResponse(ResponseSerializer):
    """How work is sold, and what that costs today; `terms` are those of every day. Shares and fees are money."""

    id = serializers.IntegerField(source="channel.pk")
    name = serializers.CharField(source="channel.name")
    payment = serializers.ChoiceField(source="channel.payment", choices=Payment.choices)
    is_gallery = serializers.BooleanField(
        source="channel.is_gallery", help_text="Pieces are left there on sale or return, for a commission."
    )
    commission = MoneyResponseField(help_text="As a fraction of one.")
    commission_before_tax = serializers.BooleanField()
    card_rate = MoneyResponseField(help_text="As a fraction of one.")
    fixed_fee = MoneyResponseField()
    monthly_fee = MoneyResponseField(help_text="Whatever is sold: in no price, and in earnings by day.")
    lacks_fees = serializers.BooleanField(
        help_text="Nothing is entered yet that it takes; never true of cash or a bank transfer."
    )
    is_active = serializers.BooleanField(source="channel.is_active")
    terms = TermsResponse(source="channel.terms", many=True)


class SalesChannelRequest(RowRequest):
    """A sales channel; what it takes, its terms say."""

    class Meta:
        model = SalesChannel
        fields = ("name", "payment", "is_active")


class TermsRequest(RowRequest):
    """What a channel takes from a day on. Null stays as it was before. Shares are fractions of one."""

    channel = RowField(SalesChannel.objects.all())
    holds_from = serializers.DateField(allow_null=True, help_text="The first day; null from the beginning.")

    class Meta:
        model = ChannelTerms
        fields = ("channel", "holds_from", *FIGURES, "commission_before_tax")


class SalesChannelViewSet(RowsViewSet, ListViewSet):
    """Sales channels by name."""

    queryset = SalesChannel.objects.order_by("name", "pk").prefetch_related("terms")
    serializer_class = SalesChannelResponse
    request_serializer_class = SalesChannelRequest
    row_model = SalesChannel
    in_use = gettext_lazy("Only a channel without sales can be deleted; any other can be deactivated.")

    def details_of(self, row: SalesChannel) -> Any:
        return terms_on(row, timezone.localdate())

    def paginate_queryset(self, queryset: Any) -> list[Any] | None:
        page, today = super().paginate_queryset(queryset), timezone.localdate()
        return None if page is None else [terms_on(channel, today) for channel in page]


class OneTermsResponse(TermsResponse):
    """Terms, and whose they are."""

    id = serializers.IntegerField(source="pk")
    channel = serializers.IntegerField(source="channel_id")


class ChannelTermsViewSet(RowsViewSet, ListViewSet):
    """Terms of sales channels, a channel's earliest first. Sales keep the fees that were taken."""

    permission_classes = [SeesMoney]
    queryset = ChannelTerms.objects.order_by("channel__name", "channel", "holds_from", "pk")
    serializer_class = OneTermsResponse
    request_serializer_class = TermsRequest
    row_model = ChannelTerms


RULES = (
    "method", "ending", "markup", "margin", "wage", "per_area", "per_side", "retail_factor", "failures",
    "failure_share",
)  # fmt: skip


class PriceRulesRequest(RowRequest):
    """The figures of the ways to a price. Shares and factors are decimal numbers: 0.3 is 30%."""

    method = serializers.ChoiceField(choices=[method.value for method in Method], required=False)

    class Meta:
        model = PriceRules
        fields = RULES


class PriceRulesResponse(ResponseSerializer, serializers.ModelSerializer[Any]):
    """The figures of the ways to a price."""

    serializer_field_mapping = RowRequest.serializer_field_mapping

    method = serializers.ChoiceField(choices=[method.value for method in Method])

    class Meta:
        model = PriceRules
        fields = read_only_fields = RULES


class PriceRulesViewSet(OneRowViewSet):
    """The studio's own ways to a price."""

    queryset = PriceRules.objects.all()
    serializer_class = PriceRulesResponse
    request_serializer_class = PriceRulesRequest
    row_model = PriceRules
    save_action = staticmethod(change_price_rules)

    def row(self) -> PriceRules:
        return PriceRules.current()


class NewPriceRequest(RequestSerializer):
    """What is to be asked for one piece, tax included; null takes the price off."""

    piece = RowField(Piece.objects.all())
    price = MoneyField(allow_null=True)

    def validate(self, attrs: dict[str, Any]) -> NewPrice:
        return NewPrice(attrs["piece"], attrs["price"])


class NewPricesRequest(RequestSerializer):
    """Prices of several pieces, set together or not at all."""

    prices = ListOf(child=NewPriceRequest(), allow_empty=False, max_length=MOST_PIECES)


class PriceWayResponse(ResponseSerializer):
    """One way to a price: what is `left` of it after tax and fees, or what is `asked` by a rule; the price, rounded."""

    method = serializers.ChoiceField(choices=[method.value for method in Method])
    left = MoneyResponseField(allow_null=True)
    asked = MoneyResponseField(allow_null=True)
    price = MoneyResponseField(help_text="Less `tax` and the fees below it, what goes to cost and profit.")
    tax = MoneyResponseField(source="proceeds.vat")
    commission = MoneyResponseField(source="proceeds.commission")
    card_fee = MoneyResponseField(source="proceeds.card_fee")
    fixed_fee = MoneyResponseField(source="proceeds.fixed_fee")
    net_proceeds = MoneyResponseField(source="proceeds.net")
    profit = MoneyResponseField()


class PricedPieceResponse(ResponseSerializer):
    """A piece, what it must bring on a sales channel, and what it might."""

    piece = serializers.IntegerField(source="piece.pk")
    title = serializers.CharField(source="piece.title")
    price = MoneyResponseField(source="piece.price", allow_null=True)
    cost = MoneyResponseField(source="cost.whole")
    packing_to_come = MoneyResponseField(
        source="to_cover.packing_money",
        help_text="What packing is likely to cost, as similar pieces had it; 0 once the piece is packed.",
    )
    failure_allowance = MoneyResponseField(
        source="failures", help_text="For failed pours, in the ways that start from cost; not in the floor."
    )
    floor = MoneyResponseField(
        help_text="The least price that leaves the cost and the packing to come after tax and fees."
    )
    profit = MoneyResponseField(allow_null=True, help_text="Of today's price.")
    below_cost_on = serializers.ListField(
        source="below",
        child=serializers.CharField(),
        help_text="Sales channels on which the price is below cost.",
    )
    ways = PriceWayResponse(many=True)


class NewPricesResponse(ResponseSerializer):
    """The pieces of one request, with the prices that they have now."""

    prices = PricedPieceResponse(many=True)


@extend_schema_view(
    list=extend_schema(
        parameters=[
            OpenApiParameter("channel", OpenApiTypes.INT, description="A sales channel; else the first.")
        ]
    )
)
class PriceViewSet(ListViewSet):
    """Prices of finished pieces that have not left: general information, not tax or legal advice."""

    permission_classes = [SeesMoney]
    queryset = Piece.objects.none()
    serializer_class = PricedPieceResponse
    detail_serializer_class = NewPricesResponse
    request_serializer_class = NewPricesRequest
    query_names: ClassVar[dict[str, tuple[str, ...]]] = {"list": ("channel",)}
    post_status = 200

    def get_queryset(self) -> Any:
        return with_parts(standing_pieces().filter(state__in=SELLABLE)).order_by("pk")

    def paginate_queryset(self, queryset: Any) -> list[Any] | None:
        return self._priced(super().paginate_queryset(queryset) or [])

    def create(self, request: Request) -> Response:
        """Set the asking prices of several pieces, all or none. Sent again it changes nothing."""
        prices = self.read_body()["prices"]
        set_prices(prices=prices, submission=self.submission())
        pieces = with_parts(Piece.objects.filter(pk__in=[each.piece.pk for each in prices])).order_by("pk")
        return self.answer({"prices": self._priced(list(pieces))})

    def _priced(self, pieces: list[Any]) -> list[PricedPiece]:
        today = timezone.localdate()
        market, (rules, method) = Market.on(today), usual_method(today)
        asked = self.request.query_params.get("channel")
        channels = [each for each in market.charges if asked is None or str(each.pk) == asked]
        if not channels:
            raise ValidationError({"channel": [_("Choose a sales channel that is in use.")]})
        return price_sheet(pieces, channels[0], market, rules=rules, method=method)


VIEWSETS = {
    "sales-channels": SalesChannelViewSet,
    "channel-terms": ChannelTermsViewSet,
    "price-rules": PriceRulesViewSet,
    "prices": PriceViewSet,
}
