"""Reorder levels for programs."""

from collections.abc import Iterable
from dataclasses import asdict
from datetime import date
from typing import Any

from django.db.models import QuerySet
from django.http import Http404
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.materials.models import Material
from inventory.plans.queries import Promises
from inventory.reordering.calculations.demand import Kind
from inventory.reordering.outlooks import Outlook, outlook_of
from inventory.reordering.queries import levels
from studio.api.fields import QuantityField
from studio.api.serializers import NamedResponse, ResponseSerializer
from studio.api.viewsets import ReadViewSet
from studio.pages.filters import FlagFilter, ListFilterSet

OF_LEVEL = (
    "material", "stock", "on_order", "reserved", "position", "level", "calculated", "per_day", "service_percent",
    "usual_lead_days", "longest_lead_days", "run_out_on", "is_low", "reason",
)  # fmt: skip


class LevelResponse(ResponseSerializer):
    """Where a material stands against its reorder level, and why. `calculated` stands beside a level of your own."""

    material = NamedResponse()
    stock = QuantityField("stock", "material.measure", help_text="Usable today.")
    on_order = QuantityField("on_order", "material.measure")
    reserved = QuantityField("reserved", "material.measure", help_text="By every open plan.")
    position = QuantityField(
        "position",
        "material.measure",
        help_text="Stock and what is on order, less what plans reserve before a delivery could arrive.",
    )
    level = QuantityField("level", "material.measure", allow_null=True)
    calculated = QuantityField("calculated", "material.measure", allow_null=True)
    use_per_day = QuantityField("per_day", "material.measure", allow_null=True)
    service_percent = serializers.IntegerField(
        allow_null=True,
        help_text="Share of deliveries that should come in time with this level, rounded down.",
    )
    usual_lead_days = serializers.IntegerField(allow_null=True)
    longest_lead_days = serializers.IntegerField(allow_null=True)
    run_out_on = serializers.DateField(allow_null=True)
    is_low = serializers.BooleanField()
    reason = serializers.CharField()


class DayQuantityResponse(ResponseSerializer):
    """A quantity on a day: what was in stock at its end, what comes, or what a plan takes."""

    day = serializers.DateField()
    quantity = QuantityField("quantity", "measure")


class ExpectedResponse(ResponseSerializer):
    """What should be in stock at the end of a day; eight times in ten it stays between `low` and `high`."""

    day = serializers.DateField()
    low = QuantityField("low", "measure")
    expected = QuantityField("middle", "measure")
    high = QuantityField("high", "measure")


class CameResponse(ResponseSerializer):
    """A delivery of the last year; in time when something was left the evening before."""

    day = serializers.DateField()
    quantity = QuantityField("quantity", "measure")
    in_stock_before = QuantityField("before", "measure")
    in_time = serializers.BooleanField()


class LevelDetailResponse(LevelResponse):
    """The same with the material through time: stock behind and ahead, use by week, deliveries of the last year."""

    use_by_week = serializers.ChoiceField(
        choices=[kind.value for kind in Kind],
        allow_null=True,
        help_text="By the kind of use; null while there are fewer than three weeks of it.",
    )
    week = QuantityField("week", "material.measure", help_text="Expected use in a week.")
    busy_months = serializers.ListField(
        child=serializers.IntegerField(),
        help_text="Months, 1 to 12, that use more where two years agree on it.",
    )
    past = DayQuantityResponse(many=True)
    ahead = ExpectedResponse(many=True)
    arrivals = DayQuantityResponse(many=True)
    plans = DayQuantityResponse(many=True)
    weeks = DayQuantityResponse(many=True, help_text="Use in each of the last weeks, by their Mondays.")
    deliveries = CameResponse(many=True)
    days_without_stock = serializers.IntegerField(help_text="Of the last year.")


class LevelFilter(ListFilterSet):
    """Reorder levels of what is bought, and of made materials that have one of their own."""

    low = FlagFilter(help_text="Only what is at or below its level.")

    class Meta:
        model = Material
        fields: list[str] = []

    def filter_queryset(self, queryset: QuerySet[Material]) -> QuerySet[Material]:
        """Levels are worked out, so the list is filtered when they are."""
        return queryset


class LevelViewSet(ReadViewSet):
    """Reorder levels by name of the material, with the reasons for them; one of them with its use through time."""

    queryset = Material.objects.all()
    serializer_class = LevelResponse
    detail_serializer_class = LevelDetailResponse
    filterset_class = LevelFilter

    def filter_queryset(self, queryset: Any) -> Any:
        """In a list the levels of today that were asked for."""
        if self.action != "list":
            return queryset
        low = self.asked().value("low")
        return [level for level in levels(timezone.localdate()) if low is None or level.is_low == bool(low)]

    def retrieve(self, request: Request, pk: int) -> Response:
        """The level of one material; 404 for one that has none, such as what is made here or free."""
        return super().retrieve(request, pk)

    def details_of(self, row: Material) -> dict[str, Any]:
        today = timezone.localdate()
        if (level := next(iter(levels(today, materials=[row.pk])), None)) is None:
            raise Http404
        return _through_time(outlook_of(level, today, Promises(today)))


def _through_time(outlook: Outlook) -> dict[str, Any]:
    level, measure = outlook.level, outlook.level.material.measure

    def by_day(changes: Iterable[tuple[date, int]]) -> list[dict[str, Any]]:
        return [{"day": day, "quantity": quantity, "measure": measure} for day, quantity in changes]

    return {name: getattr(level, name) for name in OF_LEVEL} | {
        "use_by_week": outlook.demand.kind,
        "week": outlook.demand.week_rounded,
        "busy_months": outlook.demand.months,
        "past": by_day(outlook.past),
        "ahead": [asdict(each) | {"measure": measure} for each in outlook.ahead],
        "arrivals": by_day((each.day, each.quantity) for each in outlook.arrivals),
        "plans": by_day((each.day, each.quantity) for each in outlook.takings),
        "weeks": by_day(outlook.weeks),
        "deliveries": [
            asdict(each) | {"in_time": each.in_time, "measure": measure} for each in outlook.deliveries
        ],
        "days_without_stock": outlook.days_without,
    }


VIEWSETS = {"reorder-levels": LevelViewSet}
