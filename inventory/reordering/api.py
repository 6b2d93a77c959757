"""Reorder levels and alerts for programs."""

from typing import Any

from django.db.models import QuerySet
from django.utils import timezone
from rest_framework import serializers

from inventory.materials.models import Material
from inventory.reordering.models import Alert
from inventory.reordering.queries import levels
from studio.api.fields import QuantityField
from studio.api.serializers import NamedResponse, ResponseSerializer
from studio.api.viewsets import ListViewSet
from studio.pages.filters import FlagFilter, ListFilterSet


class AlertResponse(ResponseSerializer):
    """A material fell to its reorder level."""

    id = serializers.IntegerField(source="pk")
    material = NamedResponse()
    raised_at = serializers.DateTimeField()
    cleared_at = serializers.DateTimeField(allow_null=True)
    stock = QuantityField("stock", "material.measure")
    on_order = QuantityField("on_order", "material.measure")
    level = QuantityField("level", "material.measure")
    reason = serializers.CharField()


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


class LevelFilter(ListFilterSet):
    """Reorder levels of what is bought, and of made materials that have one of their own."""

    low = FlagFilter(help_text="Only what is at or below its level.")

    class Meta:
        model = Material
        fields: list[str] = []

    def filter_queryset(self, queryset: QuerySet[Material]) -> QuerySet[Material]:
        """Levels are worked out, so the list is filtered when they are."""
        return queryset


class LevelViewSet(ListViewSet):
    """Reorder levels by name of the material, with the reasons for them."""

    queryset = Material.objects.all()
    serializer_class = LevelResponse
    filterset_class = LevelFilter

    def filter_queryset(self, queryset: Any) -> Any:
        """The levels of today that were asked for."""
        low = self.asked().value("low")
        return [level for level in levels(timezone.localdate()) if low is None or level.is_low == bool(low)]


class ClearedFilter(FlagFilter):
    """Cleared alerts are left out unless they are asked for."""

    def filter(self, qs: QuerySet[Alert], value: bool | None) -> QuerySet[Alert]:
        return qs if value else qs.filter(cleared_at__isnull=True)


class AlertFilter(ListFilterSet):
    """Alerts; the open ones unless asked otherwise."""

    cleared = ClearedFilter()

    class Meta:
        model = Alert
        fields: list[str] = []


class AlertViewSet(ListViewSet):
    """Reorder alerts, newest first."""

    queryset = Alert.objects.select_related("material").order_by("-raised_at", "-pk")
    serializer_class = AlertResponse
    filterset_class = AlertFilter


VIEWSETS = {"alerts": AlertViewSet, "reorder-levels": LevelViewSet}
