"""Sales channels for programs."""

from rest_framework import serializers

from costing.pricing.models import SalesChannel
from studio.accounts.permissions import SeesMoney
from studio.api.fields import MillionthsField, MoneyResponseField
from studio.api.serializers import NamedResponse
from studio.api.viewsets import ListViewSet


class SalesChannelResponse(NamedResponse):
    """How work is sold, and what that costs."""

    commission = MillionthsField(help_text="As a fraction of one.")
    commission_before_tax = serializers.BooleanField()
    card_rate = MillionthsField(help_text="As a fraction of one.")
    fixed_fee = MoneyResponseField()
    is_active = serializers.BooleanField()


class SalesChannelViewSet(ListViewSet):
    """Sales channels by name."""

    permission_classes = [SeesMoney]
    queryset = SalesChannel.objects.order_by("name", "pk")
    serializer_class = SalesChannelResponse


VIEWSETS = {"sales-channels": SalesChannelViewSet}
