"""Sales channels for programs."""

from typing import Any

from django.utils import timezone
from rest_framework import serializers

from costing.pricing.models import SalesChannel
from costing.pricing.terms import terms_on
from studio.accounts.permissions import SeesMoney
from studio.api.fields import MillionthsField, MoneyResponseField
from studio.api.serializers import ResponseSerializer
from studio.api.viewsets import ListViewSet


class TermsResponse(ResponseSerializer):
    """What a channel takes from a day on. Null stays as it was before."""

    holds_from = serializers.DateField(allow_null=True, help_text="The first day; null from the beginning.")
    commission = MillionthsField(allow_null=True, help_text="As a fraction of one.")
    commission_before_tax = serializers.BooleanField(allow_null=True)
    card_rate = MillionthsField(allow_null=True, help_text="As a fraction of one.")
    fixed_fee = MoneyResponseField(allow_null=True)


class SalesChannelResponse(ResponseSerializer):
    """How work is sold, and what that costs today; `terms` are those of every day."""

    id = serializers.IntegerField(source="channel.pk")
    name = serializers.CharField(source="channel.name")
    commission = MillionthsField(help_text="As a fraction of one.")
    commission_before_tax = serializers.BooleanField()
    card_rate = MillionthsField(help_text="As a fraction of one.")
    fixed_fee = MoneyResponseField()
    is_active = serializers.BooleanField(source="channel.is_active")
    terms = TermsResponse(source="channel.terms", many=True)


class SalesChannelViewSet(ListViewSet):
    """Sales channels by name."""

    permission_classes = [SeesMoney]
    queryset = SalesChannel.objects.order_by("name", "pk").prefetch_related("terms")
    serializer_class = SalesChannelResponse

    def paginate_queryset(self, queryset: Any) -> list[Any] | None:
        page, today = super().paginate_queryset(queryset), timezone.localdate()
        return None if page is None else [terms_on(channel, today) for channel in page]


VIEWSETS = {"sales-channels": SalesChannelViewSet}
