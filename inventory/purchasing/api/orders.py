"""Orders for programs: placed, changed, sent, chased, received, closed and opened again."""

from typing import Any

from django.db.models import QuerySet
from django.urls import reverse
from django.utils import timezone
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.materials.models import Supplier
from inventory.purchasing.actions.deliveries import receive_delivery
from inventory.purchasing.actions.delivery_facts import DeliveryFacts, DeliveryHeader, LineFacts
from inventory.purchasing.actions.order_lines import OrderLineFacts
from inventory.purchasing.actions.orders import (
    ChaseFacts,
    OrderFacts,
    change_order,
    chase_order,
    close_order,
    mark_sent,
    place_order,
    reopen_order,
)
from inventory.purchasing.api.deliveries import DeliveryLineRequest, DeliveryRequest
from inventory.purchasing.api.packed_lines import PackedLineRequest
from inventory.purchasing.filters import OrderFilter
from inventory.purchasing.forms.expected_day import usual_days
from inventory.purchasing.incoming import OrderState, progress_of
from inventory.purchasing.models import Order, OrderLine, SentBy
from inventory.purchasing.order_texts import texts_of
from studio.accounts.permissions import SeesMoney
from studio.api.fields import LONGEST_NOTES, MoneyField, MoneyResponseField, QuantityField, RowField
from studio.api.schema import ENTITY_TAG, IF_MATCH
from studio.api.serializers import NamedResponse, RequestSerializer, ResponseSerializer
from studio.api.viewsets import ReadViewSet, change_seen, row_action
from studio.errors import InputError
from studio.preferences.context import current_studio
from studio.translation import _
from studio.values.money import round_to_minor

MOST_LINES = 100
LONGEST_ADDRESS = 500


class OrderLineRequest(PackedLineRequest):
    """One line: so many packs of one material. `id` is the line of the order that it changes."""

    id = RowField(OrderLine.objects.select_related("order"), required=False)
    price = MoneyField(
        default=0, help_text="Of the whole line, in the order's currency. Only for those who see money."
    )

    def validate(self, attrs: dict[str, Any]) -> OrderLineFacts:
        if attrs["price"] and not self.context["sees_money"]:
            raise InputError(_("Leave this out: your account does not show prices."), field="price")
        material, amount, typed = self.take_pack(attrs)
        return OrderLineFacts(material, amount, attrs["price"], attrs["packs"], typed, attrs.get("id"))


class OrderHeadRequest(RequestSerializer):
    """What an order has besides its supplier and its lines."""

    expected_on = serializers.DateField(required=False)
    reference = serializers.CharField(
        required=False, max_length=60, allow_blank=True, help_text="The supplier's own number for it."
    )
    deliver_to = serializers.CharField(required=False, max_length=LONGEST_ADDRESS, allow_blank=True)
    sent_on = serializers.DateField(required=False, allow_null=True)
    sent_by = serializers.ChoiceField(choices=SentBy.choices, required=False, allow_blank=True)
    notes = serializers.CharField(required=False, max_length=LONGEST_NOTES, allow_blank=True)


class OrderRequest(OrderHeadRequest):
    """An order that is placed. Without `expected_on`, what the supplier's deliveries have taken gives the day."""

    supplier = RowField(Supplier.objects.all())
    ordered_on = serializers.DateField()
    lines = serializers.ListSerializer[Any](
        child=OrderLineRequest(), allow_empty=False, max_length=MOST_LINES
    )

    def validate(self, attrs: dict[str, Any]) -> OrderFacts:
        return OrderFacts(**attrs)


class OrderChangeRequest(OrderHeadRequest):
    """What changes on an order; what is left out stays. Where there are `lines`, the order has these and no others."""

    ordered_on = serializers.DateField(required=False)
    lines = serializers.ListSerializer[Any](
        child=OrderLineRequest(), allow_empty=False, max_length=MOST_LINES, required=False
    )


class SentRequest(RequestSerializer):
    """How an order was sent today."""

    sent_by = serializers.ChoiceField(choices=SentBy.choices)


class ChaseRequest(RequestSerializer):
    """The supplier was asked where an order is. Without a promised day the expected one stays."""

    asked_on = serializers.DateField()
    promised_on = serializers.DateField(required=False, allow_null=True)
    note = serializers.CharField(required=False, max_length=300, allow_blank=True, default="")

    def validate(self, attrs: dict[str, Any]) -> ChaseFacts:
        return ChaseFacts(**attrs)


class ReceiveRequest(DeliveryRequest):
    """A delivery of this order. Without `lines`, everything still due came as it was ordered."""

    supplier = None  # type: ignore[assignment]
    order = None  # type: ignore[assignment]
    lines = serializers.ListSerializer[Any](
        child=DeliveryLineRequest(), allow_empty=False, max_length=MOST_LINES, required=False
    )

    def validate(self, attrs: dict[str, Any]) -> Any:
        return attrs


class OrderLineResponse(ResponseSerializer):
    """One line, what has come of it and what is still due."""

    id = serializers.IntegerField(source="line.pk")
    material = NamedResponse(source="line.material")
    packs = serializers.IntegerField(source="line.packs")
    pack = QuantityField("line.pack", "line.material.measure")
    quantity = QuantityField("line.quantity", "line.material.measure")
    received = QuantityField("received", "line.material.measure")
    due = QuantityField("to_come", "line.material.measure")
    price = MoneyResponseField(source="line.price", help_text="Of the line, in the order's currency.")


class OrderResponse(ResponseSerializer):
    """An order and how far it has come."""

    id = serializers.IntegerField(source="order.pk")
    number = serializers.IntegerField(source="order.number")
    supplier = NamedResponse(source="order.supplier")
    ordered_on = serializers.DateField(source="order.ordered_on")
    expected_on = serializers.DateField(source="order.expected_on", allow_null=True)
    days_late = serializers.SerializerMethodField(
        help_text="Days since it was expected; 0 where nothing is late."
    )
    reference = serializers.CharField(source="order.reference", help_text="The supplier's own number for it.")
    currency = serializers.CharField(source="order.currency")
    sent_on = serializers.DateField(source="order.sent_on", allow_null=True)
    sent_by = serializers.CharField(source="order.sent_by")
    is_closed = serializers.BooleanField(source="order.is_closed")
    rest_cancelled = serializers.BooleanField(
        source="order.rest_cancelled", help_text="It was closed although not everything had come."
    )
    lines = OrderLineResponse(many=True)

    def get_days_late(self, state: OrderState) -> int:
        return state.days_late(timezone.localdate())


class ChaseResponse(ResponseSerializer):
    """One time that the supplier was asked."""

    asked_on = serializers.DateField()
    expected_before = serializers.DateField(allow_null=True)
    promised_on = serializers.DateField(allow_null=True)
    note = serializers.CharField()
    recorded_by = serializers.CharField(source="recorded_by.username", allow_null=True, default=None)


class EmailResponse(ResponseSerializer):
    """The order as the text of an email."""

    to = serializers.CharField(source="order.supplier.email")
    subject = serializers.CharField()
    text = serializers.CharField(source="email")


class OrderDetailResponse(OrderResponse):
    """An order with everything that belongs to it."""

    deliver_to = serializers.CharField(source="order.deliver_to")
    notes = serializers.CharField(source="order.notes")
    chases = ChaseResponse(source="order.chases", many=True)
    deliveries = serializers.SerializerMethodField(help_text="Its deliveries, reversed ones as well.")
    paper = serializers.SerializerMethodField(help_text="The order as a PDF, for ?paper=A4, A5 or Letter.")
    email = serializers.SerializerMethodField()

    @extend_schema_field(serializers.ListField(child=serializers.IntegerField()))
    def get_deliveries(self, state: OrderState) -> list[int]:
        return list(state.order.deliveries.order_by("pk").values_list("pk", flat=True))

    def get_paper(self, state: OrderState) -> str:
        return reverse("inventory:order-paper", args=[state.order.pk])

    @extend_schema_field(EmailResponse)
    def get_email(self, state: OrderState) -> Any:
        studio = current_studio(self.context["request"]._request)
        texts = texts_of(state.order, studio, with_prices=self.context["sees_money"])
        return EmailResponse(texts, context=self.context).data


class OrderViewSet(ReadViewSet):
    """Orders; the open ones unless asked otherwise."""

    queryset = Order.objects.select_related("supplier").prefetch_related("chases__recorded_by")
    serializer_class = OrderResponse
    detail_serializer_class = OrderDetailResponse
    request_serializer_class = OrderRequest
    filterset_class = OrderFilter
    has_key = True

    def paginate_queryset(self, queryset: QuerySet[Order]) -> Any:  # type: ignore[override]
        return progress_of(super().paginate_queryset(queryset) or [])

    def details_of(self, row: Order) -> OrderState:
        return progress_of([row])[0]

    @extend_schema(parameters=[ENTITY_TAG])
    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """One order, with an `ETag` for whoever changes it."""
        return self.tagged()

    def create(self, request: Request) -> Response:
        """Place an order. What is due counts as on order."""

        def act(facts: OrderFacts) -> Order:
            today = timezone.localdate()
            days = usual_days(facts.supplier, current_studio(self.request._request), on=today)
            return place_order(facts=facts, submission=self.submission(), usual_days=days)

        return self.post_once(act)

    @extend_schema(parameters=[ENTITY_TAG, IF_MATCH])
    @row_action(has_key=False, request_serializer_class=OrderChangeRequest)
    def change(self, request: Request, pk: int) -> Response:
        """Change an open order. A line of which something has come cannot be removed."""
        order, body = self.get_object(), self.read_body()
        change_order(
            order=order, facts=_changed(order, body), submission=self.submission(), seen=change_seen(request)
        )
        return self.tagged()

    @extend_schema(parameters=[ENTITY_TAG, IF_MATCH])
    @row_action(has_key=False, request_serializer_class=SentRequest)
    def sent(self, request: Request, pk: int) -> Response:
        """Mark an order as sent today."""
        order, way = self.get_object(), self.read_body()["sent_by"]
        mark_sent(order=order, sent_by=way, submission=self.submission(), seen=change_seen(request))
        return self.tagged()

    @action(detail=True, methods=["post"], request_serializer_class=ChaseRequest)
    def chase(self, request: Request, pk: int) -> Response:
        """Record that the supplier was asked where it is. A promised day is the expected one from now on."""
        order = self.get_object()
        return self.post_once(
            lambda facts: chase_order(order=order, facts=facts, submission=self.submission()).order
        )

    @action(
        detail=True, methods=["post"], permission_classes=[SeesMoney], request_serializer_class=ReceiveRequest
    )
    def receive(self, request: Request, pk: int) -> Response:
        """Post a delivery of this order; it closes once everything has come. Answers with the order."""
        order: Order = self.get_object()

        def act(body: dict[str, Any]) -> Order:
            lines = body.pop("lines", None) or _all_due(order)
            home = self.get_serializer_context()["formatter"].currency
            header = DeliveryHeader(supplier=order.supplier, home_currency=home, order=order, **body)
            submission = self.submission(on=header.received_on)
            receive_delivery(facts=DeliveryFacts(header, lines), submission=submission)
            return order

        return self.post_once(act)

    @extend_schema(request=None, parameters=[ENTITY_TAG, IF_MATCH])
    @row_action(has_key=False, request_serializer_class=RequestSerializer)
    def close(self, request: Request, pk: int) -> Response:
        """Expect nothing more from an order. Sent again it changes nothing."""
        close_order(order=self.get_object(), submission=self.submission(), seen=change_seen(request))
        return self.tagged()

    @extend_schema(request=None, parameters=[ENTITY_TAG, IF_MATCH])
    @row_action(has_key=False, request_serializer_class=RequestSerializer)
    def reopen(self, request: Request, pk: int) -> Response:
        """Expect the rest of an order after all. Sent again it changes nothing."""
        reopen_order(order=self.get_object(), submission=self.submission(), seen=change_seen(request))
        return self.tagged()


def _changed(order: Order, body: dict[str, Any]) -> OrderFacts:
    """An order as it is with what changes. Raises InputError."""
    names = ("ordered_on", "expected_on", "reference", "deliver_to", "sent_on", "sent_by", "notes")
    lines = body.pop("lines", None)
    if lines is None:
        rows = order.lines.select_related("material").order_by("pk")
        lines = [OrderLineFacts(row.material, row.pack, row.price, row.packs, row.typed, row) for row in rows]
    head = {name: getattr(order, name) for name in names} | body
    return OrderFacts(supplier=order.supplier, currency=order.currency, lines=lines, **head)


def _all_due(order: Order) -> list[LineFacts]:
    """Everything still due of an order, in the packs and at the price that it was ordered. Raises InputError."""
    lines = []
    for each in progress_of([order])[0].lines:
        if each.to_come:
            packs, pack = each.packs_to_come
            price = round_to_minor(each.price_to_come, order.currency)
            typed = each.line.typed if pack == each.line.pack else ""
            lines.append(LineFacts(each.line.material, pack, price, packs, typed, order_line=each.line))
    if not lines:
        raise InputError(_("Nothing is due on this order. Say what came in `lines`."), field="lines")
    return lines


VIEWSETS = {"orders": OrderViewSet}
