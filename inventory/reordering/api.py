"""Reorder alerts for programs, open and cleared."""

from rest_framework import serializers

from inventory.reordering.filters import AlertFilter
from inventory.reordering.models import Alert
from studio.api.fields import QuantityField
from studio.api.serializers import NamedResponse, ResponseSerializer
from studio.api.viewsets import ListViewSet


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


class AlertViewSet(ListViewSet):
    """Reorder alerts, newest first."""

    queryset = Alert.objects.select_related("material").order_by("-raised_at", "-pk")
    serializer_class = AlertResponse
    filterset_class = AlertFilter


VIEWSETS = {"alerts": AlertViewSet}
