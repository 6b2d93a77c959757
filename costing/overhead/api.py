"""Years of overhead for programs. All of it is money; owners alone write. Not tax or legal advice."""

from typing import Any

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from costing.overhead.actions import add_year, take_over_rate
from costing.overhead.models import MOST_HOURS, OverheadLine, OverheadYear
from costing.overhead.queries import year_figures
from studio.accounts.permissions import OwnerWrites
from studio.api.fields import MoneyField, MoneyResponseField, RowField
from studio.api.rows import RowRequest, RowsViewSet
from studio.api.serializers import ListOf, RequestSerializer, ResponseSerializer
from studio.api.viewsets import ListViewSet, row_action

MOST_LINES = 100


class OverheadLineRequest(RequestSerializer):
    """One kind of overhead: what it is expected to come to, and what was paid; null until it is known."""

    name = serializers.CharField(max_length=80)
    estimated = MoneyField()
    paid = MoneyField(allow_null=True, required=False)

    def validate(self, attrs: dict[str, Any]) -> OverheadLine:
        return OverheadLine(**attrs)


class OverheadYearRequest(RequestSerializer):
    """A year of overhead, or a part of one, with its lines. `paid_in_total` counts in place of what lines say."""

    starts_on = serializers.DateField()
    ends_on = serializers.DateField(help_text="At most a year after the first day.")
    hours = serializers.IntegerField(min_value=1, max_value=MOST_HOURS, help_text="That are expected.")
    paid_in_total = MoneyField(allow_null=True, required=False)
    lines = ListOf(child=OverheadLineRequest(), max_length=MOST_LINES)


class OverheadChangeRequest(RowRequest):
    """A year of overhead without its lines, which are changed one by one."""

    class Meta:
        model = OverheadYear
        fields = ("starts_on", "ends_on", "hours", "paid_in_total")


class OneOverheadLineRequest(RowRequest):
    """One kind of overhead of a year."""

    year = RowField(OverheadYear.objects.all())

    class Meta:
        model = OverheadLine
        fields = ("year", "name", "estimated", "paid")


class OverheadLineResponse(ResponseSerializer):
    """One kind of overhead."""

    id = serializers.IntegerField(source="pk")
    name = serializers.CharField()
    estimated = MoneyResponseField()
    paid = MoneyResponseField(allow_null=True)


class OverheadYearResponse(ResponseSerializer):
    """A year of overhead worked out: its rate, and what the work logged in it absorbed."""

    id = serializers.IntegerField(source="year.pk")
    starts_on = serializers.DateField(source="year.starts_on")
    ends_on = serializers.DateField(source="year.ends_on")
    hours = serializers.IntegerField(source="year.hours")
    estimated = MoneyResponseField()
    rate = MoneyResponseField(
        allow_null=True, help_text="Estimated overhead ÷ estimated hours, in whole minor units."
    )
    minutes_worked = serializers.IntegerField(source="minutes")
    absorbed = MoneyResponseField(help_text="Minutes worked at the overhead rate of their day.")
    paid = MoneyResponseField(allow_null=True, help_text="Null until all of it is known.")
    difference = MoneyResponseField(
        source="absorption.difference",
        default=None,
        allow_null=True,
        help_text="Paid less absorbed: above zero under-absorbed, below it over-absorbed.",
    )
    lines = OverheadLineResponse(many=True)


class OverheadViewSet(RowsViewSet, ListViewSet):
    """Years of overhead, the latest first."""

    permission_classes = [OwnerWrites]
    queryset = OverheadYear.objects.prefetch_related("lines")
    serializer_class = OverheadYearResponse
    detail_serializer_class = OverheadYearResponse
    request_serializer_class = OverheadYearRequest
    row_model = OverheadYear

    def get_request_class(self) -> Any:
        return OverheadChangeRequest if self.action == "change" else super().get_request_class()

    def paginate_queryset(self, queryset: Any) -> list[Any] | None:
        return year_figures(super().paginate_queryset(queryset) or [])

    def details_of(self, row: OverheadYear) -> Any:
        return year_figures([row])[0]

    def create(self, request: Request) -> Response:
        """Add a year with its lines. Sent again it is refused: that time has been entered already."""
        body = self.read_body()
        lines = body.pop("lines")
        year = add_year(OverheadYear(**body), lines, submission=self.submission())
        return self.answer(year, status=201)

    @row_action(request_serializer_class=RequestSerializer)
    def rate(self, request: Request, pk: int) -> Response:
        """Let the year's rate hold from its first day on. Sent again it changes nothing."""
        self.read_body()
        year = self.get_object()
        take_over_rate(year, submission=self.submission())
        return self.answer(year)


class OverheadLineViewSet(RowsViewSet, ListViewSet):
    """Lines of overhead, the latest year first."""

    permission_classes = [OwnerWrites]
    queryset = OverheadLine.objects.order_by("-year__starts_on", "pk")
    serializer_class = OverheadLineResponse
    request_serializer_class = OneOverheadLineRequest
    row_model = OverheadLine


VIEWSETS = {"overhead": OverheadViewSet, "overhead-lines": OverheadLineViewSet}
