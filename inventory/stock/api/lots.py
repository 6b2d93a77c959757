"""Lots for programs: read, described, decanted; and chosen by number in other requests."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.ledger.api import MovementResponse
from inventory.ledger.models import Entry, Lot
from inventory.ledger.movements import account_movements
from inventory.materials.models import Material
from inventory.recipes.models import Mix
from inventory.sessions.queries.pours import pours_from
from inventory.stock.actions.lots import DESCRIPTION, decant, describe_lot
from inventory.stock.filters import LotFilter
from inventory.stock.queries import held_lots
from studio.api.fields import MoneyResponseField, QuantityField, QuantityInput, RowField, RowNumbersField
from studio.api.rows import RowRequest, SavesRows
from studio.api.schema import ENTITY_TAG, IF_MATCH
from studio.api.serializers import NamedResponse, RequestSerializer, ResponseSerializer
from studio.api.viewsets import ReadViewSet, StudioViewSet, row_action
from studio.errors import InputError
from studio.translation import _
from studio.values.units import Measure


class LotResponse(ResponseSerializer):
    """One lot, by the label on the jar."""

    id = serializers.IntegerField(source="pk")
    label = serializers.CharField()  # type: ignore[assignment]
    material = NamedResponse()
    origin = serializers.ChoiceField(choices=Lot.Origin.choices)
    received_on = serializers.DateField()
    opened_on = serializers.DateField(allow_null=True)
    best_before = serializers.DateField(allow_null=True)
    place = serializers.CharField()
    supplier_batch = serializers.CharField()
    holds = QuantityField("balance.quantity", "material.measure", help_text="Null before its first posting.")
    value = MoneyResponseField(source="balance.money", allow_null=True)


class LotDetailResponse(LotResponse):
    """One lot with where it came from and its last movements."""

    empty_weight = QuantityField("empty_weight", Measure.MASS, allow_null=True)
    decanted_from = serializers.IntegerField(source="decanted_from_id", allow_null=True)
    decanted_into = RowNumbersField()
    use_by = serializers.DateField(source="held.use_by", allow_null=True)
    delivery = serializers.IntegerField(source="delivery_line.delivery_id", allow_null=True)
    mix = serializers.IntegerField(source="made_by_mix", allow_null=True)
    pours = RowNumbersField(source="poured_on", help_text="Pours made from it, reversed ones left out.")
    movements = MovementResponse(many=True, help_text="The latest, newest first.")


class LotRequest(RowRequest):
    """What is known of a lot, never what it holds."""

    empty_weight = QuantityInput(required=False, allow_null=True, help_text="Of its container.")

    class Meta:
        model = Lot
        fields = DESCRIPTION

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        self.read_amounts(attrs, Measure.MASS, "empty_weight", allow_zero=True)
        return attrs


class DecantRequest(RequestSerializer):
    """So much of a lot into a fresh container."""

    quantity = QuantityInput()
    on = serializers.DateField()
    place = serializers.CharField(required=False, max_length=80, allow_blank=True, default="")
    empty_weight = QuantityInput(required=False, help_text="Of the fresh container.")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if "empty_weight" in attrs:
            attrs["empty_weight"] = self.amount_in(
                "empty_weight", attrs["empty_weight"], Measure.MASS, allow_zero=True
            )
        return attrs


class LotViewSet(SavesRows, ReadViewSet):
    """Lots, newest first."""

    queryset = Lot.objects.select_related("material", "balance").order_by("-received_on", "-pk")
    serializer_class = LotResponse
    detail_serializer_class = LotDetailResponse
    filterset_class = LotFilter
    row_model = Lot
    save_action = staticmethod(describe_lot)

    @extend_schema(parameters=[ENTITY_TAG])
    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """One lot, with an `ETag` for whoever describes it."""
        return self.tagged()

    @extend_schema(parameters=[ENTITY_TAG, IF_MATCH])
    @row_action(request_serializer_class=LotRequest)
    def change(self, request: Request, pk: int) -> Response:
        """Describe a lot: what is left out stays as it is. Sent again it changes nothing."""
        self.save_change()
        return self.tagged()

    @action(detail=True, methods=["post"], has_key=True, request_serializer_class=DecantRequest)
    def decant(self, request: Request, pk: int) -> Response:
        """Move some of a lot into a fresh container. Answers with the lot that it is from then on."""
        lot = self.get_object()

        def act(body: dict[str, Any]) -> Lot:
            quantity = amount_of(self, lot, body.pop("quantity"))
            return decant(lot=lot, quantity=quantity, submission=self.submission(on=body.pop("on")), **body)

        return self.post_once(act)

    def details_of(self, row: Any) -> Any:
        row.held = next(iter(held_lots(lots=[row.pk])), None)
        row.movements = account_movements(Entry.objects.filter(lot=row))
        row.poured_on = pours_from(row)
        row.made_by_mix = Mix.objects.filter(lot=row).values_list("pk", flat=True).first()
        return row


def amount_of(view: StudioViewSet, lot: Lot, quantity: Any) -> int:
    """A quantity of what a lot holds. Raises InputError."""
    reader = RequestSerializer(context=view.get_serializer_context())
    return reader.amount_of("quantity", quantity, lot.material)


class ChosenLotField(RowField):
    """A lot to draw from first; it must be one of the material drawn."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(Lot.objects.select_related("material"), **kwargs)


def number_of(lot: Lot | None, material: Material | None, *, field: str = "lot") -> int | None:
    """The lot's number. Raises InputError for a lot of another material, which the ledger would pass over."""
    if lot is not None and lot.material != material:
        message = _(
            "{lot} holds {held}, not {wanted}.", lot=lot.label, held=lot.material, wanted=material or "–"
        )
        raise InputError(message, field=field)
    return lot.pk if lot else None


VIEWSETS = {"lots": LotViewSet}
