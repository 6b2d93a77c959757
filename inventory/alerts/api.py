"""Alerts for programs: what needs attention and why, acknowledged and snoozed."""

from typing import Any

from django.db.models import QuerySet
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.alerts.actions.answers import acknowledge, show_again, snooze
from inventory.alerts.actions.refreshing import refresh_alerts
from inventory.alerts.filters import AlertFilter
from inventory.alerts.models import Alert, AlertHappening, AlertState
from inventory.alerts.queries import ShownAlert, alerts_for, shown
from studio.api.fields import QuantityField
from studio.api.serializers import NamedResponse, RequestSerializer, ResponseSerializer
from studio.api.viewsets import ReadViewSet, row_action
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter


class StockFiguresResponse(ResponseSerializer):
    """Where a low material stands today, as under reorder-levels."""

    stock = QuantityField("stock", "material.measure")
    on_order = QuantityField("on_order", "material.measure")
    position = QuantityField("position", "material.measure")
    level = QuantityField("level", "material.measure", allow_null=True)


class AlertEventResponse(ResponseSerializer):
    """What happened to an alert. Nobody is named where it happened of itself."""

    what = serializers.ChoiceField(choices=AlertHappening.choices)
    at = serializers.DateTimeField()
    by = serializers.CharField(source="by.username", allow_null=True, default=None)
    until = serializers.DateField(allow_null=True)


class AlertResponse(ResponseSerializer):
    """Something needs attention. `reason` says why, in figures, in the language that was asked for."""

    id = serializers.IntegerField(source="alert.pk")
    kind = serializers.CharField(source="kind.code", help_text="Such as to_reorder, out or order_late.")
    name = serializers.CharField(help_text="What it is about.")
    material = NamedResponse(source="alert.material", allow_null=True)
    state = serializers.ChoiceField(choices=AlertState.choices)
    reason = serializers.CharField(source="why")
    stock = StockFiguresResponse(source="level", allow_null=True, help_text="Of out and to_reorder alone.")
    since = serializers.DateField(source="alert.since")
    raised_at = serializers.DateTimeField(source="alert.raised_at")
    snoozed_until = serializers.DateField(source="alert.snoozed_until", allow_null=True)
    cleared_at = serializers.DateTimeField(source="alert.cleared_at", allow_null=True)


class AlertDetailResponse(AlertResponse):
    """An alert with what happened to it."""

    events = AlertEventResponse(source="alert.events.all", many=True)


class SnoozeRequest(RequestSerializer):
    """The day on which it is shown again."""

    until = serializers.DateField()


class CheckedResponse(ResponseSerializer):
    """How many alerts were raised, and how many cleared."""

    raised = serializers.IntegerField()
    cleared = serializers.IntegerField()


class AlertViewSet(ReadViewSet):
    """Alerts, newest first; those that tell about money only for those who see it."""

    queryset = Alert.objects.order_by("-raised_at", "-pk")
    serializer_class = AlertResponse
    detail_serializer_class = AlertDetailResponse
    filterset_class = AlertFilter

    def get_queryset(self) -> QuerySet[Alert]:
        """Those that this person may see."""
        return alerts_for(self.user).select_related("material").order_by("-raised_at", "-pk")

    def details_of(self, row: Alert) -> ShownAlert:
        """An alert in words."""
        return self._shown([row])[0]

    def paginate_queryset(self, queryset: Any) -> Any:
        """The page in words, in the order of the page."""
        page = super().paginate_queryset(queryset)
        words = {row.alert.pk: row for row in self._shown(page or [])}
        return [words[alert.pk] for alert in page or []]

    def _shown(self, alerts: list[Alert]) -> list[ShownAlert]:
        formatter = Formatter.of(current_studio(self.request._request))
        return shown(alerts, on=timezone.localdate(), formatter=formatter)

    @row_action()
    def acknowledge(self, request: Request, pk: int) -> Response:
        """It stays quiet until its cause is gone. A second time changes nothing."""
        return self._answered(acknowledge(alert=self.get_object(), submission=self.submission()))

    @row_action(request_serializer_class=SnoozeRequest)
    def snooze(self, request: Request, pk: int) -> Response:
        """It stays quiet until a day after today, within a year."""
        until = self.read_body()["until"]
        return self._answered(snooze(alert=self.get_object(), until=until, submission=self.submission()))

    @row_action(url_path="show-again")
    def show_again(self, request: Request, pk: int) -> Response:
        """Take back that it was acknowledged or snoozed."""
        return self._answered(show_again(alert=self.get_object(), submission=self.submission()))

    @extend_schema(request=None)
    @action(
        detail=False,
        methods=["post"],
        request_serializer_class=RequestSerializer,
        detail_serializer_class=CheckedResponse,
        post_status=200,
    )
    def check(self, request: Request) -> Response:
        """Look at everything again now, as every night."""
        refreshed = refresh_alerts(on=timezone.localdate(), at=timezone.now())
        counts = {"raised": len(refreshed.raised), "cleared": len(refreshed.cleared)}
        return Response(self.get_serializer(counts).data)

    def _answered(self, alert: Alert) -> Response:
        return self.answer(self.get_queryset().get(pk=alert.pk))


VIEWSETS = {"alerts": AlertViewSet}
