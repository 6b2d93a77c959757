"""Stocktakes and write-offs for programs."""

from typing import Any

from django.db.models import Prefetch
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.ledger.api import PostingDetailViewSet
from inventory.ledger.models import Lot, Reason
from inventory.stock.actions.lots import write_off
from inventory.stock.actions.stocktakes import Count, post_stocktake, weighed
from inventory.stock.filters import StocktakeFilter
from inventory.stock.models import Stocktake, StocktakeLine
from studio.api.fields import LONGEST_NOTES, QuantityField, QuantityInput, RowField
from studio.api.serializers import AskingRequest, NamedResponse, RequestSerializer, ResponseSerializer
from studio.api.viewsets import ReadViewSet
from studio.errors import InputError, MeniscusError
from studio.translation import _
from studio.values.units import Measure

MOST_COUNTS = 500


class CountRequest(RequestSerializer):
    """One lot, counted or weighed; `empty` is the weight of its container where the lot does not say."""

    lot = RowField(Lot.objects.select_related("material"))
    counted = QuantityInput(required=False)
    weighed = QuantityInput(required=False, help_text="Container and contents together.")
    empty = QuantityInput(required=False)
    how = serializers.CharField(required=False, max_length=120, allow_blank=True, default="")

    def validate(self, attrs: dict[str, Any]) -> Any:
        if ("counted" in attrs) == ("weighed" in attrs):
            raise serializers.ValidationError(_("Give either the amount found or its weight."))
        lot, how = attrs["lot"], attrs["how"]
        if "counted" in attrs:
            counted = self.amount_of("counted", attrs["counted"], lot.material, allow_zero=True)
            return Count(lot, counted, how or "counted")
        gross, empty = (
            self.amount_in(name, attrs[name], Measure.MASS, allow_zero=True) if name in attrs else None
            for name in ("weighed", "empty")
        )
        try:
            return Count(lot, weighed(lot, gross or 0, empty), how or "weighed")
        except MeniscusError as problem:
            raise InputError(str(problem), field="weighed") from None


class StocktakeRequest(RequestSerializer):
    """A stocktake of the shelf, or of part of it."""

    counted_on = serializers.DateField()
    notes = serializers.CharField(required=False, max_length=LONGEST_NOTES, allow_blank=True, default="")
    counts = serializers.ListSerializer[Any](child=CountRequest(), allow_empty=False, max_length=MOST_COUNTS)


class StocktakeResponse(ResponseSerializer):
    """A stocktake; without a posting when everything matched."""

    id = serializers.IntegerField(source="pk")
    counted_on = serializers.DateField()
    notes = serializers.CharField()
    posting = serializers.IntegerField(source="posting_id", allow_null=True)


class CountResponse(ResponseSerializer):
    """One lot: expected and counted."""

    lot = serializers.IntegerField(source="lot_id")
    label = serializers.CharField(source="lot.label")  # type: ignore[assignment]
    material = NamedResponse(source="lot.material")
    expected = QuantityField("expected", "lot.material.measure")
    counted = QuantityField("counted", "lot.material.measure")
    how = serializers.CharField()


class StocktakeDetailResponse(StocktakeResponse):
    """A stocktake with its counts."""

    lines = CountResponse(many=True, source="lines.all")


class StocktakeViewSet(ReadViewSet):
    """Stocktakes, newest first."""

    queryset = Stocktake.objects.prefetch_related(
        Prefetch("lines", StocktakeLine.objects.select_related("lot__material"))
    ).order_by("-counted_on", "-pk")
    serializer_class = StocktakeResponse
    detail_serializer_class = StocktakeDetailResponse
    request_serializer_class = StocktakeRequest
    filterset_class = StocktakeFilter
    has_key = True

    def create(self, request: Request) -> Response:
        """Post a stocktake: differences become losses and gains, what matches is recorded without an entry."""
        return self.post_once(
            lambda body: post_stocktake(
                counts=body["counts"], notes=body["notes"], submission=self.submission(on=body["counted_on"])
            )
        )


class WriteOffRequest(AskingRequest):
    """So much out of one lot, for a named reason."""

    lot = RowField(Lot.objects.select_related("material"))
    quantity = QuantityInput()
    reason = RowField(Reason.objects.exclude(kind=Reason.Kind.COUNT))
    on = serializers.DateField()
    note = serializers.CharField(required=False, max_length=300, allow_blank=True, default="")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        return attrs | {"quantity": self.amount_of("quantity", attrs["quantity"], attrs["lot"].material)}


class WriteOffViewSet(PostingDetailViewSet):
    """Write-offs; they are read back among the postings."""

    request_serializer_class = WriteOffRequest
    has_key = True

    def create(self, request: Request) -> Response:
        """Write off some of a lot."""
        return self.post_once(lambda body: write_off(submission=self.submission(on=body.pop("on")), **body))


VIEWSETS = {"stocktakes": StocktakeViewSet, "write-offs": WriteOffViewSet}
