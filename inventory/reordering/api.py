"""Reorder alerts, standing and cleared."""

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.ledger.api.base import Named, ShelfView
from inventory.reordering.models import Alert
from studio.api.fields import Amount, ResponseSerializer
from studio.api.views import REFUSED, QuerySerializer


class AlertsQuery(QuerySerializer):
    """What the list may be asked for."""

    cleared = serializers.BooleanField(required=False, help_text="Include cleared alerts.")


class AlertResponse(ResponseSerializer):
    """A material fell to its reorder level."""

    id = serializers.IntegerField(source="pk")
    material = Named()
    raised_at = serializers.DateTimeField()
    cleared_at = serializers.DateTimeField(allow_null=True)
    stock = Amount("stock", "material.measure")
    on_order = Amount("on_order", "material.measure")
    level = Amount("level", "material.measure")
    reason = serializers.CharField()


class AlertList(ShelfView):
    query = AlertsQuery
    is_list = True

    @extend_schema(
        operation_id="alerts_list",
        parameters=[AlertsQuery],
        responses={200: AlertResponse(many=True), **REFUSED},
    )
    def get(self, request: Request) -> Response:
        """Alerts, newest first."""
        found = Alert.objects.select_related("material").order_by("-raised_at", "-pk")
        if not self.asked.get("cleared"):
            found = found.filter(cleared_at__isnull=True)
        return self.paged(AlertResponse, found)
