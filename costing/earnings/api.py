"""What pieces earned, and which of them wait for a buyer, for programs."""

from typing import Any

from django.utils import timezone
from rest_framework import serializers

from costing.earnings.filters import EarningsFilter
from costing.earnings.queries import earned_by, waiting_pieces
from costing.pieces.models import Piece
from costing.selling.models import Sale
from studio.accounts.permissions import SeesMoney
from studio.api.fields import MillionthsField, MoneyResponseField
from studio.api.serializers import ResponseSerializer
from studio.api.viewsets import ListViewSet
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio


class EarningsResponse(ResponseSerializer):
    """Sold pieces that have something in common. Net proceeds are takings less tax, fees and the postage paid."""

    key = serializers.CharField(help_text="Names the group: send it as `key` with `within` to look into it.")
    name = serializers.CharField(source="label")
    count = serializers.IntegerField(source="total.count", help_text="Pieces that stayed sold.")
    takings = MoneyResponseField(
        source="total.paid", help_text="What buyers paid, postage included, less refunds."
    )
    postage_paid = MoneyResponseField(source="total.postage_paid")
    tax = MoneyResponseField(source="total.tax")
    fees = MoneyResponseField(source="total.fees", help_text="What sales channels kept.")
    net_proceeds = MoneyResponseField(source="total.net_proceeds")
    cost = MoneyResponseField(source="total.cost", help_text="Materials, work and overhead.")
    profit = MoneyResponseField(source="total.profit")


class EarningsViewSet(ListViewSet):
    """What was earned, sorted into groups by `by`; the group that earned most comes first."""

    permission_classes = [SeesMoney]
    queryset = Sale.objects.all()
    serializer_class = EarningsResponse
    filterset_class = EarningsFilter

    def filter_queryset(self, queryset: Any) -> Any:
        asked = self.asked()
        return asked.groups(earned_by(asked.qs, Formatter.of(Studio.current())))


class WaitingResponse(ResponseSerializer):
    """A piece for sale, and for how many days it has been."""

    piece = serializers.IntegerField(source="piece.pk")
    title = serializers.CharField(source="piece.title")
    since = serializers.DateField()
    days = serializers.IntegerField()
    is_slow = serializers.BooleanField(help_text="Waits longer than three in four of those sold did.")
    price = MillionthsField(source="piece.price", allow_null=True)
    cost = MoneyResponseField()


class SlowSellersViewSet(ListViewSet):
    """Pieces for sale, those that have waited longest first."""

    permission_classes = [SeesMoney]
    queryset = Piece.objects.all()
    serializer_class = WaitingResponse

    def filter_queryset(self, queryset: Any) -> Any:
        return waiting_pieces(timezone.localdate(), Formatter.of(Studio.current())).pieces


VIEWSETS = {"earnings": EarningsViewSet, "slow-sellers": SlowSellersViewSet}
