"""Deliveries for programs: goods received, with their landed cost."""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import Any

from django.db.models import Prefetch, Sum
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.ledger.api import ConfirmedField, EffectResponse, effect_rows
from inventory.ledger.models import Lot
from inventory.materials.models import Supplier
from inventory.purchasing.actions.corrections import CorrectionFacts, correct_delivery, preview_correction
from inventory.purchasing.actions.deliveries import receive_delivery
from inventory.purchasing.actions.delivery_facts import DeliveryFacts, DeliveryHeader, LineFacts
from inventory.purchasing.actions.pack_prices import update_pack_prices
from inventory.purchasing.api.packed_lines import PackedLineRequest
from inventory.purchasing.correction_history import corrections_of_delivery
from inventory.purchasing.filters import DeliveryFilter
from inventory.purchasing.models import Delivery, DeliveryLine, Order, OrderLine
from inventory.purchasing.price_changes import PriceChange, changes_of
from studio.accounts.permissions import IsOwner, SeesMoney
from studio.api.fields import (
    ExchangeRateField,
    MillionthsField,
    MoneyField,
    MoneyResponseField,
    QuantityField,
    QuantityInput,
    ReversedField,
    RowField,
)
from studio.api.serializers import AskingRequest, NamedResponse, RequestSerializer, ResponseSerializer
from studio.api.viewsets import ReadViewSet, row_action
from studio.errors import InputError, InputErrors
from studio.translation import _
from studio.values.units import Measure

MOST_LINES = 100
LARGEST_ROW = 2**63 - 1


class DeliveryLineRequest(PackedLineRequest):
    """One line: so many packs of one material, and what they cost together."""

    price = MoneyField(help_text="Of the whole line, in the currency of the invoice.")
    best_before = serializers.DateField(required=False, allow_null=True, default=None)
    place = serializers.CharField(required=False, max_length=60, allow_blank=True, default="")
    supplier_batch = serializers.CharField(required=False, max_length=60, allow_blank=True, default="")
    empty_weight = QuantityInput(required=False)
    order_line = RowField(OrderLine.objects.all(), required=False)

    def validate(self, attrs: dict[str, Any]) -> LineFacts:
        (material, pack, typed), empty = self.take_pack(attrs), attrs.pop("empty_weight", None)
        if empty is not None:
            attrs["empty_weight"] = self.amount_in("empty_weight", empty, Measure.MASS, allow_zero=True)
        return LineFacts(material, pack=pack, typed=typed, **attrs)


class DeliveryRequest(AskingRequest):
    """Goods received. Carriage, duty and tax that cannot be reclaimed are in the studio's own currency."""

    supplier = RowField(Supplier.objects.all())
    received_on = serializers.DateField()
    reference = serializers.CharField(required=False, max_length=60, allow_blank=True, default="")
    currency = serializers.CharField(
        required=False, max_length=3, help_text="Default: the supplier's currency."
    )
    rate = ExchangeRateField(
        required=False,
        help_text="What one unit of the invoice's currency costs in the studio's. A foreign invoice needs either this "
        "or `paid`.",
    )
    paid = MoneyField(
        required=False,
        help_text="What all the lines together cost in the studio's currency, in place of a rate.",
    )
    rate_on = serializers.DateField(required=False)
    carriage = MoneyField(default=0)
    carriage_shared_by = serializers.ChoiceField(
        choices=Delivery.SharedBy.choices, default=Delivery.SharedBy.VALUE
    )
    duty = MoneyField(default=0)
    tax = MoneyField(default=0)
    order = RowField(Order.objects.all(), required=False)
    close_order = serializers.BooleanField(default=False)
    lines = serializers.ListSerializer[Any](
        child=DeliveryLineRequest(), allow_empty=False, max_length=MOST_LINES
    )

    def validate(self, attrs: dict[str, Any]) -> DeliveryFacts:
        lines = attrs.pop("lines")
        return DeliveryFacts(DeliveryHeader(home_currency=self.formatter.currency, **attrs), lines)


class LineCorrectionRequest(RequestSerializer):
    """One line as it should have been recorded. What is left out stays as it is."""

    lot = RowField(Lot.objects.select_related("material"), help_text="The lot that the line made.")
    pack = QuantityInput(required=False, help_text="Pack size.")
    packs = serializers.IntegerField(required=False, min_value=1, max_value=100_000)
    price = MoneyField(required=False, help_text="Of the whole line, in the currency of the invoice.")

    def validate(self, attrs: dict[str, Any]) -> tuple[int, dict[str, Any]]:
        lot = attrs.pop("lot")
        if "pack" in attrs:
            pack = attrs["pack"]
            attrs["pack"] = self.amount_of("pack", pack, lot.material)
            attrs["typed"] = (
                pack
                if isinstance(pack, str)
                else self.formatter.quantity(attrs["pack"], lot.material.measure)
            )
        return lot.pk, attrs


class DeliveryCorrectionRequest(RequestSerializer):
    """What should have been recorded of a delivery. What is left out stays as it is.

    A new currency takes no rate over from the old one. A delivery that answers an order keeps the order's supplier.
    """

    supplier = RowField(Supplier.objects.all(), required=False)
    currency = serializers.CharField(required=False, max_length=3, help_text="Of the invoice and its prices.")
    received_on = serializers.DateField(required=False)
    rate = ExchangeRateField(
        required=False, help_text="What one unit of the invoice's currency costs in the studio's."
    )
    paid = MoneyField(
        required=False,
        help_text="What all the lines together cost in the studio's currency, in place of a rate.",
    )
    rate_on = serializers.DateField(required=False)
    carriage = MoneyField(required=False)
    carriage_shared_by = serializers.ChoiceField(choices=Delivery.SharedBy.choices, required=False)
    duty = MoneyField(required=False)
    tax = MoneyField(required=False)
    lines = serializers.ListSerializer[Any](
        child=LineCorrectionRequest(), required=False, max_length=MOST_LINES
    )
    reason = serializers.CharField(max_length=300)

    def validate(self, attrs: dict[str, Any]) -> CorrectionFacts:
        lines, reason = attrs.pop("lines", []), attrs.pop("reason")
        if ("rate" in attrs) != ("paid" in attrs):
            attrs |= {"paid": None} if "rate" in attrs else {"rate": None}  # one takes the other's place
        by_lot = dict(lines)
        if len(by_lot) < len(lines):
            raise InputError(_("Give each lot only once."), field="lines")
        return CorrectionFacts(self.formatter.currency, attrs, by_lot, reason)


class PackPricesRequest(RequestSerializer):
    """Whose pack prices are taken into the supplier's list."""

    lots = serializers.ListField(
        child=serializers.IntegerField(min_value=1, max_value=LARGEST_ROW),
        default=list,
        max_length=MOST_LINES,
        help_text="The lots that the lines made; without any, every line.",
    )


class PriceChangeResponse(ResponseSerializer):
    """A line's price beside an earlier one for as much, in the currency of the invoice."""

    against = serializers.SerializerMethodField(help_text="`order` or `last-paid`.")
    before = MoneyResponseField()
    difference = MoneyResponseField(help_text="Above zero where it costs more now.")
    share = MillionthsField(help_text="The difference as a fraction of the earlier price, without its sign.")
    paid_on = serializers.DateField(allow_null=True)

    def get_against(self, change: PriceChange) -> str:
        return "last-paid" if change.paid_on else "order"


class LinePriceChangesResponse(ResponseSerializer):
    """The changes of one line's price."""

    lot = serializers.IntegerField()
    changes = PriceChangeResponse(many=True)


class ChangedFigureResponse(ResponseSerializer):
    """One figure before and after, as the studio writes it. `lot` is null for one of the whole delivery."""

    lot = serializers.IntegerField(allow_null=True)
    name = serializers.CharField()
    before = serializers.CharField()
    after = serializers.CharField()

    def to_representation(self, instance: Any) -> dict[str, Any]:
        shown: dict[str, Any] = super().to_representation(instance)
        return shown | {"lot": shown["lot"] or None}


class PastCorrectionResponse(ResponseSerializer):
    """A correction of a delivery: when, by whom, why, and what it changed."""

    posting = serializers.IntegerField(source="posting.number")
    recorded_at = serializers.DateTimeField(source="posting.recorded_at")
    recorded_by = serializers.CharField(source="posting.recorded_by.username")
    reason = serializers.CharField(source="posting.note")
    is_reversed = serializers.BooleanField()
    figures = ChangedFigureResponse(many=True)


class CorrectionPreviewResponse(ResponseSerializer):
    """Every account that a correction would change."""

    effects = EffectResponse(many=True)


class DeliveryResponse(ResponseSerializer):
    """A delivery."""

    id = serializers.IntegerField(source="pk")
    supplier = NamedResponse()
    received_on = serializers.DateField()
    reference = serializers.CharField()
    order = serializers.IntegerField(source="order_id", allow_null=True)
    posting = serializers.IntegerField(source="posting_id")
    is_reversed = ReversedField(source="posting")
    landed = MoneyResponseField(allow_null=True, help_text="Total landed cost.")


class DeliveryLineResponse(ResponseSerializer):
    """One line: it made one lot."""

    lot = serializers.IntegerField(source="lot_id")
    label = serializers.CharField(source="lot.label")  # type: ignore[assignment]
    material = NamedResponse(source="lot.material")
    quantity = QuantityField("quantity", "lot.material.measure")
    packs = serializers.IntegerField()
    typed = serializers.CharField(help_text="Pack size as entered.")
    price = MoneyResponseField(help_text="Of the line, in the currency of the invoice.")
    landed = MoneyResponseField(help_text="Landed cost of the lot, in the studio's currency.")


class DeliveryDetailResponse(DeliveryResponse):
    """A delivery with its lines and what all lines share."""

    currency = serializers.CharField()
    rate = ExchangeRateField(
        required=False,
        allow_null=True,
        help_text="What one unit of the invoice's currency cost in the studio's, as entered; null where `paid` was "
        "entered, and for an invoice in the studio's own.",
    )
    invoiced = MoneyResponseField(help_text="What the lines cost together, in the currency of the invoice.")
    paid = MoneyResponseField(help_text="What that cost in the studio's currency.")
    carriage = MoneyResponseField()
    carriage_shared_by = serializers.ChoiceField(choices=Delivery.SharedBy.choices)
    duty = MoneyResponseField()
    tax = MoneyResponseField()
    confirmed = ConfirmedField(source="posting")
    lines = DeliveryLineResponse(many=True)
    corrections = serializers.SerializerMethodField(help_text="The figures above are as corrected.")

    price_changes = serializers.SerializerMethodField(
        help_text="Lines that cost something else than ordered, or than last paid; null for who sees no money."
    )

    @extend_schema_field(LinePriceChangesResponse(many=True, allow_null=True))
    def get_price_changes(self, delivery: Delivery) -> Any:
        if not self.context["sees_money"]:
            return None
        lines = list(delivery.lines.select_related("lot", "order_line__order").order_by("pk"))
        rows = [
            {"lot": lot, "changes": changes}
            for lot, changes in changes_of(delivery, lines).items()
            if changes
        ]
        return LinePriceChangesResponse(rows, many=True, context=self.context).data

    @extend_schema_field(PastCorrectionResponse(many=True))
    def get_corrections(self, delivery: Delivery) -> Any:
        corrections = corrections_of_delivery(
            delivery, self.context["formatter"], sees_money=self.context["sees_money"]
        )
        return PastCorrectionResponse(corrections, many=True, context=self.context).data


class DeliveryViewSet(ReadViewSet):
    """Deliveries, newest first unless sorted otherwise."""

    queryset = (
        Delivery.objects.select_related("supplier", "posting__reversed_by")
        .annotate(landed=Sum("lines__landed"))
        .prefetch_related(
            Prefetch("lines", DeliveryLine.objects.select_related("lot__material").order_by("pk"))
        )
        .order_by("-received_on", "-pk")
    )
    serializer_class = DeliveryResponse
    detail_serializer_class = DeliveryDetailResponse
    request_serializer_class = DeliveryRequest
    filterset_class = DeliveryFilter
    has_key = True

    def get_permissions(self) -> Any:
        # Logging a delivery is typing prices; looking at what came is not.
        return [SeesMoney()] if self.action == "create" else super().get_permissions()

    def create(self, request: Request) -> Response:
        """Post a delivery: each line becomes a lot."""
        return self.post_once(
            lambda facts: receive_delivery(
                facts=facts, submission=self.submission(on=facts.header.received_on)
            )
        )

    @action(
        detail=True,
        methods=["post"],
        has_key=True,
        permission_classes=[IsOwner],
        request_serializer_class=DeliveryCorrectionRequest,
    )
    def corrections(self, request: Request, pk: int) -> Response:
        """Put a delivery right by one visible posting that follows its goods; answers with it as corrected."""
        delivery: Delivery = self.get_object()

        def act(facts: CorrectionFacts) -> Delivery:
            with lines_as_sent(_lots(delivery), facts.lines):
                correct_delivery(delivery=delivery, facts=facts, submission=self.submission())
            return delivery

        return self.post_once(act)

    @row_action(
        has_key=False,
        url_path="pack-prices",
        permission_classes=[IsOwner],
        request_serializer_class=PackPricesRequest,
    )
    def pack_prices(self, request: Request, pk: int) -> Response:
        """Take what its packs cost into the supplier's list. Sent again it changes nothing."""
        delivery, lots = self.get_object(), self.read_body()["lots"]
        update_pack_prices(delivery=delivery, lots=lots, submission=self.submission())
        return self.answer(self.get_object())

    @row_action(
        has_key=False,
        url_path="corrections/preview",
        permission_classes=[IsOwner],
        request_serializer_class=DeliveryCorrectionRequest,
        detail_serializer_class=CorrectionPreviewResponse,
    )
    def preview(self, request: Request, pk: int) -> Response:
        """What a correction would change, account by account, before and after. Nothing is written."""
        delivery, facts = self.get_object(), self.read_body()
        with lines_as_sent(_lots(delivery), facts.lines):
            effects = preview_correction(delivery=delivery, facts=facts, submission=self.submission())
        return Response(self.get_serializer({"effects": effect_rows(effects)}).data)


@contextmanager
def lines_as_sent(recorded: Iterable[int], sent: Iterable[int]) -> Iterator[None]:
    """Let a refusal name its line as it was sent, not as its lot stands among those that are recorded."""
    try:
        yield
    except InputError as refusal:
        lots, as_sent = list(recorded), list(sent)
        problems = [
            problem.on_line(as_sent.index(lots[problem.line - 1]) + 1) if problem.line else problem
            for problem in refusal.problems
        ]
        raise InputErrors(problems) from None


def _lots(delivery: Delivery) -> list[int]:
    return [line.lot_id for line in delivery.lines.order_by("pk")]


VIEWSETS = {"deliveries": DeliveryViewSet}
