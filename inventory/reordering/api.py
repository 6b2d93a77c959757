"""Reorder alerts for programs, open and cleared."""

from django.db.models import QuerySet
from rest_framework import serializers

from inventory.reordering.models import Alert
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


VIEWSETS = {"alerts": AlertViewSet}
