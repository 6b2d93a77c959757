"""Stocktakes: what was found against what the books said."""

from typing import Any

from django.db.models import Prefetch
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.ledger.api.base import LONGEST_NOTES, Days, Named, ShelfView, between
from inventory.ledger.models import Lot
from inventory.stock.actions.stocktakes import Count, post_stocktake, weighed
from inventory.stock.models import Stocktake, StocktakeLine
from studio.api.fields import Amount, QuantityRequest, QuantityText, ResponseSerializer, RowNumber
from studio.api.views import KEY_HEADER, REFUSED, REFUSED_TO_WRITE
from studio.errors import MeniscusError
from studio.translation import _
from studio.values.units import Measure

MOST_COUNTS = 500


class CountRequest(QuantityRequest):
    """One lot, counted or weighed; `empty` is the weight of its container where the lot does not say."""

    lot = RowNumber(Lot.objects.select_related("material"))
    counted = QuantityText(required=False)
    weighed = QuantityText(required=False, help_text="Container and contents together.")
    empty = QuantityText(required=False)
    how = serializers.CharField(required=False, max_length=120, allow_blank=True, default="")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if ("counted" in attrs) == ("weighed" in attrs):
            raise serializers.ValidationError(_("Give either the amount found or its weight."))
        lot, how = attrs["lot"], attrs["how"]
        if "counted" in attrs:
            found = self.amount_of("counted", attrs["counted"], lot.material, allow_zero=True)
            return {"count": Count(lot, found, how or "counted")}
        gross = self.amount_in("weighed", attrs["weighed"], Measure.MASS, allow_zero=True)
        said_empty = attrs.get("empty")
        empty = (
            None if said_empty is None else self.amount_in("empty", said_empty, Measure.MASS, allow_zero=True)
        )
        try:
            return {"count": Count(lot, weighed(lot, gross, empty), how or "weighed")}
        except MeniscusError as problem:
            raise serializers.ValidationError({"weighed": [str(problem)]}) from None


class StocktakeRequest(QuantityRequest):
    """A count of the shelf, or of part of it."""

    counted_on = serializers.DateField()
    notes = serializers.CharField(required=False, max_length=LONGEST_NOTES, allow_blank=True, default="")
    counts = serializers.ListSerializer[Any](child=CountRequest(), allow_empty=False, max_length=MOST_COUNTS)


class StocktakeResponse(ResponseSerializer):
    """A stocktake in a line; without a posting when all agreed."""

    id = serializers.IntegerField(source="pk")
    counted_on = serializers.DateField()
    notes = serializers.CharField()
    posting = serializers.IntegerField(source="posting_id", allow_null=True)


class CountResponse(ResponseSerializer):
    """One lot: what the books said and what was found."""

    lot = serializers.IntegerField(source="lot_id")
    label = serializers.CharField(source="lot.label")  # type: ignore[assignment]
    material = Named(source="lot.material")
    expected = Amount("expected", "lot.material.measure")
    counted = Amount("counted", "lot.material.measure")
    how = serializers.CharField()


class StocktakeDetailResponse(StocktakeResponse):
    """A stocktake with its counts."""

    lines = CountResponse(many=True, source="lines.all")


class StocktakeList(ShelfView):
    query = Days
    is_list = True

    def status_for(self, key: str) -> int:
        """A count that agreed with the books made no posting: it is known by its own key."""
        known = Stocktake.objects.exclude(key="").filter(recorded_by=self.person, key=key)
        return 200 if known.exists() else super().status_for(key)

    @extend_schema(
        operation_id="stocktakes_list",
        parameters=[Days],
        responses={200: StocktakeResponse(many=True), **REFUSED},
    )
    def get(self, request: Request) -> Response:
        """Stocktakes, newest first."""
        return self.paged(StocktakeResponse, between(Stocktake.objects.all(), "counted_on", self.asked))

    @extend_schema(
        operation_id="stocktakes_post",
        parameters=[KEY_HEADER],
        request=StocktakeRequest,
        responses={201: StocktakeDetailResponse, 200: StocktakeDetailResponse, **REFUSED_TO_WRITE},
    )
    def post(self, request: Request) -> Response:
        """Post a count: differences become losses and gains, what agrees is recorded without an entry."""
        key, said = self.key, self.said(StocktakeRequest)
        status = self.status_for(key)
        made = post_stocktake(
            counts=[count["count"] for count in said["counts"]],
            notes=said["notes"],
            submission=self.submission(on=said["counted_on"], key=key),
        )
        return self.one(StocktakeDetailResponse, stocktakes().get(pk=made.pk), status=status)


class StocktakeDetail(ShelfView):
    @extend_schema(operation_id="stocktakes_read", responses={200: StocktakeDetailResponse, **REFUSED})
    def get(self, request: Request, pk: int) -> Response:
        """One stocktake with its counts."""
        return self.one(StocktakeDetailResponse, get_object_or_404(stocktakes(), pk=pk))


def stocktakes() -> Any:
    """Stocktakes with their lines."""
    lines = StocktakeLine.objects.select_related("lot__material")
    return Stocktake.objects.prefetch_related(Prefetch("lines", lines))
