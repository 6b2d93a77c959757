"""Deliveries: goods received, with what they cost on the shelf."""

from typing import Any

from django.db.models import Prefetch, Sum
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.ledger.api.base import MOST_LINES, Days, Named, ShelfView, between
from inventory.materials.models import Material, Supplier
from inventory.purchasing.actions.deliveries import receive_delivery
from inventory.purchasing.actions.delivery_facts import DeliveryFacts, DeliveryHeader, LineFacts
from inventory.purchasing.models import Delivery, DeliveryLine, Order, OrderLine
from studio.accounts.permissions import SeesMoney
from studio.api.fields import (
    Amount,
    DecimalText,
    Money,
    MoneyAmount,
    QuantityRequest,
    QuantityText,
    ResponseSerializer,
    RowNumber,
    WholeNumber,
)
from studio.api.problems import refused_as_invalid
from studio.api.views import KEY_HEADER, REFUSED, REFUSED_TO_WRITE
from studio.values.units import Measure


class DeliveriesQuery(Days):
    """What the list may be asked for."""

    supplier = WholeNumber(least=1, required=False)


class DeliveryLineRequest(QuantityRequest):
    """One line: so many packs of one material, and what they cost together."""

    material = RowNumber(Material.objects.all())
    pack = QuantityText(help_text="Pack size.")
    packs = WholeNumber(least=1, most=100_000, default=1)
    price = Money(help_text="Of the whole line, in the currency of the invoice.")
    best_before = serializers.DateField(required=False, allow_null=True, default=None)
    place = serializers.CharField(required=False, max_length=60, allow_blank=True, default="")
    supplier_batch = serializers.CharField(required=False, max_length=60, allow_blank=True, default="")
    empty_weight = QuantityText(required=False)
    order_line = RowNumber(OrderLine.objects.all(), required=False)

    def validate(self, attrs: dict[str, Any]) -> LineFacts:
        material = attrs.pop("material")
        pack, empty = attrs["pack"], attrs.pop("empty_weight", None)
        if empty is not None:
            attrs["empty_weight"] = self.amount_in("empty_weight", empty, Measure.MASS, allow_zero=True)
        attrs |= {"pack": self.amount_of("pack", pack, material), "typed": pack}
        with refused_as_invalid():
            return LineFacts(material, **attrs)


class DeliveryRequest(QuantityRequest):
    """Goods received. Carriage, duty and tax that cannot be reclaimed are in the studio's own currency."""

    supplier = RowNumber(Supplier.objects.all())
    received_on = serializers.DateField()
    reference = serializers.CharField(required=False, max_length=60, allow_blank=True, default="")
    currency = serializers.CharField(
        required=False, max_length=3, help_text="Default: the supplier's currency."
    )
    rate = DecimalText(
        required=False, help_text="What one unit of the invoice's currency costs in the studio's."
    )
    rate_on = serializers.DateField(required=False)
    carriage = Money(default=0)
    carriage_shared_by = serializers.ChoiceField(
        choices=Delivery.SharedBy.choices, default=Delivery.SharedBy.VALUE
    )
    duty = Money(default=0)
    tax = Money(default=0)
    order = RowNumber(Order.objects.all(), required=False)
    close_order = serializers.BooleanField(default=False)
    lines = serializers.ListSerializer[Any](
        child=DeliveryLineRequest(), allow_empty=False, max_length=MOST_LINES
    )

    def validate(self, attrs: dict[str, Any]) -> DeliveryFacts:
        lines = attrs.pop("lines")
        with refused_as_invalid():
            return DeliveryFacts(DeliveryHeader(home_currency=self.formatter.currency, **attrs), lines)


class DeliveryResponse(ResponseSerializer):
    """A delivery in a line."""

    id = serializers.IntegerField(source="pk")
    supplier = Named()
    received_on = serializers.DateField()
    reference = serializers.CharField()
    order = serializers.IntegerField(source="order_id", allow_null=True)
    posting = serializers.IntegerField(source="posting_id")
    is_reversed = serializers.SerializerMethodField()
    landed = MoneyAmount(allow_null=True, help_text="Total landed cost.")

    def get_is_reversed(self, delivery: Delivery) -> bool:
        return hasattr(delivery.posting, "reversed_by")


class DeliveryLineResponse(ResponseSerializer):
    """One line: it made one lot."""

    lot = serializers.IntegerField(source="lot_id")
    label = serializers.CharField(source="lot.label")  # type: ignore[assignment]
    material = Named(source="lot.material")
    quantity = Amount("quantity", "lot.material.measure")
    packs = serializers.IntegerField()
    typed = serializers.CharField(help_text="Pack size as entered.")
    price = MoneyAmount(help_text="Of the line, in the currency of the invoice.")
    landed = MoneyAmount(help_text="Landed cost of the lot, in the studio's currency.")


class DeliveryDetailResponse(DeliveryResponse):
    """A delivery with its lines and what all lines share."""

    currency = serializers.CharField()
    rate = MoneyAmount(help_text="What one unit of the invoice's currency cost in the studio's.")
    carriage = MoneyAmount()
    carriage_shared_by = serializers.ChoiceField(choices=Delivery.SharedBy.choices)
    duty = MoneyAmount()
    tax = MoneyAmount()
    lines = DeliveryLineResponse(many=True)


class DeliveryList(ShelfView):
    query = DeliveriesQuery
    is_list = True

    def get_permissions(self) -> Any:
        # Logging a delivery is typing prices; looking at what came is not.
        return [SeesMoney()] if self.request.method == "POST" else super().get_permissions()

    @extend_schema(
        operation_id="deliveries_list",
        parameters=[DeliveriesQuery],
        responses={200: DeliveryResponse(many=True), **REFUSED},
    )
    def get(self, request: Request) -> Response:
        """Deliveries, newest first."""
        found = between(deliveries(), "received_on", self.asked)
        if "supplier" in self.asked:
            found = found.filter(supplier=self.asked["supplier"])
        return self.paged(DeliveryResponse, found)

    @extend_schema(
        operation_id="deliveries_receive",
        parameters=[KEY_HEADER],
        request=DeliveryRequest,
        responses={201: DeliveryDetailResponse, 200: DeliveryDetailResponse, **REFUSED_TO_WRITE},
    )
    def post(self, request: Request) -> Response:
        """Post a delivery: each line becomes a lot."""
        key, facts = self.key, self.said(DeliveryRequest)
        status = self.status_for(key)
        made = receive_delivery(facts=facts, submission=self.submission(key=key))
        return self.one(DeliveryDetailResponse, deliveries().get(pk=made.pk), status=status)


class DeliveryDetail(ShelfView):
    @extend_schema(operation_id="deliveries_read", responses={200: DeliveryDetailResponse, **REFUSED})
    def get(self, request: Request, pk: int) -> Response:
        """One delivery with its lines."""
        return self.one(DeliveryDetailResponse, get_object_or_404(deliveries(), pk=pk))


def deliveries() -> Any:
    """Deliveries with everything their shapes show."""
    lines = DeliveryLine.objects.select_related("lot__material").order_by("pk")
    return (
        Delivery.objects.select_related("supplier", "posting__reversed_by")
        .annotate(landed=Sum("lines__landed"))
        .prefetch_related(Prefetch("lines", lines))
        .order_by("-received_on", "-pk")
    )
