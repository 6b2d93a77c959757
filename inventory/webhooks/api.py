"""Webhooks for programs of the owner: the same as on the pages."""

from django.shortcuts import get_object_or_404
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.webhooks.actions import renew_secret, restart, retry
from inventory.webhooks.models import Webhook, WebhookMessage
from studio.accounts.permissions import IsOwner
from studio.api.rows import RowRequest, RowsViewSet
from studio.api.serializers import RequestSerializer, ResponseSerializer
from studio.api.viewsets import ListViewSet, ReadViewSet, row_action
from studio.auditing.reference_rows import set_columns


class WebhookRequest(RowRequest):
    """Where to, and what is told."""

    address = serializers.CharField(max_length=300, help_text="Begins with https://.")
    events = serializers.ListField(
        child=serializers.CharField(max_length=40), allow_empty=False, max_length=10
    )

    class Meta:
        model = Webhook
        fields = ("address", "events", "with_money")

    def validate_events(self, names: list[str]) -> str:
        return ",".join(dict.fromkeys(names))


class SwitchRequest(RequestSerializer):
    """On or off."""

    is_on = serializers.BooleanField()


class WebhookResponse(ResponseSerializer):
    """One webhook."""

    id = serializers.IntegerField(source="pk")
    address = serializers.CharField()
    events = serializers.ListField(child=serializers.CharField(), source="event_names")
    with_money = serializers.BooleanField()
    is_on = serializers.BooleanField()
    failures = serializers.IntegerField(help_text="How often in turn a message could not be delivered.")
    stopped_at = serializers.DateTimeField(allow_null=True)


class SecretResponse(ResponseSerializer):
    """A new secret, this once."""

    secret = serializers.CharField()


class MessageResponse(ResponseSerializer):
    """One event told to one address."""

    id = serializers.IntegerField(source="pk")
    webhook = serializers.IntegerField(source="webhook_id")
    message_id = serializers.CharField()
    event = serializers.CharField()
    subject = serializers.IntegerField(help_text="The id of what it tells of.")
    written_at = serializers.DateTimeField()
    attempts = serializers.IntegerField()
    status = serializers.IntegerField(allow_null=True, help_text="Of the last answer.")
    problem = serializers.CharField()
    sent_at = serializers.DateTimeField(allow_null=True)
    given_up_at = serializers.DateTimeField(allow_null=True)


class WebhookViewSet(RowsViewSet, ReadViewSet):
    """Addresses that are told what happens. Nothing is sent before the secret of one was made."""

    permission_classes = [IsOwner]
    queryset = Webhook.objects.all()
    serializer_class = WebhookResponse
    request_serializer_class = WebhookRequest
    row_model = Webhook

    @row_action(detail_serializer_class=SecretResponse, request_serializer_class=RequestSerializer)
    def secret(self, request: Request, pk: int) -> Response:
        """Make a new secret; the one before it ends."""
        self.read_body()
        return self.answer({"secret": renew_secret(self.get_object())})

    @row_action(request_serializer_class=SwitchRequest)
    def switch(self, request: Request, pk: int) -> Response:
        """Switch it on, forgetting what failed, or off."""
        row = self.get_object()
        set_columns(row, submission=self.submission(), is_on=self.read_body()["is_on"])
        restart(row)
        return self.answer(get_object_or_404(self.get_queryset(), pk=row.pk))


class WebhookMessageViewSet(ListViewSet):
    """What was told, the latest first."""

    permission_classes = [IsOwner]
    queryset = WebhookMessage.objects.all()
    serializer_class = MessageResponse

    @row_action(request_serializer_class=RequestSerializer)
    def retry(self, request: Request, pk: int) -> Response:
        """Send it again with the next run."""
        self.read_body()
        message = self.get_object()
        retry(message, at=timezone.now())
        return self.answer(get_object_or_404(self.get_queryset(), pk=message.pk))


VIEWSETS = {"webhooks": WebhookViewSet, "webhook-messages": WebhookMessageViewSet}
