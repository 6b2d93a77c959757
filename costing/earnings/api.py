"""What pieces earned, and which of them wait for a buyer, for programs."""

from typing import Any, ClassVar

from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from costing.commissions.queries import kept_deposits
from costing.earnings.filters import EarningsFilter
from costing.earnings.queries import Earned, hourly, waiting_pieces, worked_in
from costing.pieces.models import Piece
from costing.selling.models import Sale
from studio.accounts.permissions import SeesMoney
from studio.api.fields import MillionthsField, MoneyResponseField
from studio.api.serializers import ResponseSerializer
from studio.api.viewsets import ListViewSet
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio


class EarnedResponse(ResponseSerializer):
    """Sold pieces together. Net proceeds are takings less tax, fees and the postage paid."""

    count = serializers.IntegerField(source="total.count", help_text="Pieces that stayed sold.")
    takings = MoneyResponseField(
        source="total.paid", help_text="What buyers paid, postage included, less refunds."
    )
    postage_paid = MoneyResponseField(source="total.postage_paid")
    tax = MoneyResponseField(source="total.tax")
    fees = MoneyResponseField(source="total.fees", help_text="What sales channels kept of the sales.")
    monthly_fees = MoneyResponseField(
        source="total.monthly_fees", help_text="What sales channels took by the month, shared by day."
    )
    net_proceeds = MoneyResponseField(source="total.net_proceeds")
    cost = MoneyResponseField(source="total.cost", help_text="Materials, work and overhead.")
    profit = MoneyResponseField(source="total.profit")
    minutes = serializers.IntegerField(
        source="hourly.minutes", help_text="Worked on the pieces that stayed sold, as on their cost sheets."
    )
    untimed = serializers.IntegerField(
        source="total.untimed", help_text="Of those pieces, how many have no time recorded."
    )
    profit_per_hour = MoneyResponseField(
        source="hourly.profit_per_hour", allow_null=True, help_text="Null where no time is recorded."
    )
    with_wage_per_hour = MoneyResponseField(
        source="hourly.with_wage",
        allow_null=True,
        help_text="The same before the wage in the cost is taken off.",
    )


class EarningsResponse(EarnedResponse):
    """The same for pieces that have something in common."""

    key = serializers.CharField(help_text="Names the group: send it as `key` with `within` to look into it.")
    name = serializers.CharField(source="label")


class WorkedResponse(ResponseSerializer):
    """The profit on the sales of a period beside all work of its days; time at markets is in none of it."""

    first = serializers.DateField()
    last = serializers.DateField()
    profit = MoneyResponseField()
    minutes = serializers.IntegerField()
    profit_per_hour = MoneyResponseField(allow_null=True)


class EarningsTotalResponse(EarnedResponse):
    """The same for everything that is asked for."""

    worked = WorkedResponse(
        allow_null=True, help_text="All work of the period. Null for one channel, and where nothing was sold."
    )

    kept_deposits = MoneyResponseField(
        source="kept",
        help_text="Kept when commissions were cancelled in the period: income without a sale, in no other figure.",
    )


PERIOD = [
    OpenApiParameter("first", OpenApiTypes.DATE, description="The first day of the period."),
    OpenApiParameter("last", OpenApiTypes.DATE, description="The last day of the period."),
    OpenApiParameter("channel", OpenApiTypes.INT, description="A sales channel; else all."),
]


class EarningsViewSet(ListViewSet):
    """What was earned, sorted into groups by `by`; the group that earned most comes first."""

    permission_classes = [SeesMoney]
    queryset = Sale.objects.all()
    serializer_class = EarningsResponse
    filterset_class = EarningsFilter
    query_names: ClassVar[dict[str, tuple[str, ...]]] = {"total": ("first", "last", "channel")}

    def filter_queryset(self, queryset: Any) -> Any:
        asked = self.asked()
        return asked.groups(self._earned(asked))

    @extend_schema(parameters=PERIOD)
    @action(detail=False, detail_serializer_class=EarningsTotalResponse, filterset_class=EarningsFilter)
    def total(self, request: Request) -> Response:
        """All of it together, and the deposits that were kept besides."""
        asked = self.asked()
        kept = kept_deposits(asked.value("first"), asked.value("last"))
        total = self._earned(asked).total
        first, last = asked.period(today=timezone.localdate())
        worked = None
        if first is not None and first <= last and not asked.value("channel"):
            worked = worked_in(first, last, total.profit)
        return self.answer({"total": total, "kept": kept, "hourly": hourly(total), "worked": worked})

    def _earned(self, asked: EarningsFilter) -> Earned:
        return asked.everything(Formatter.of(Studio.current()), today=timezone.localdate())


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
