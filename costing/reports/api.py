"""The year end and what is written down, for programs. Not tax or legal advice."""

from typing import Any

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from costing.pieces.models import Piece
from costing.reports.actions import WriteDownFacts, write_down_items
from costing.reports.filters import YearEndFilter
from costing.reports.models import WriteDown
from costing.reports.queries import year_end
from costing.reports.statement import statement_of
from inventory.ledger.models import Lot, Posting
from studio.accounts.permissions import OwnerWrites, SeesMoney
from studio.api.fields import MoneyField, MoneyResponseField, RowField
from studio.api.serializers import ListOf, RequestSerializer, ResponseSerializer
from studio.api.viewsets import ListViewSet
from studio.preferences.models import Studio
from studio.translation import _

MOST_ITEMS = 500


class StatementLineResponse(ResponseSerializer):
    """One line of the year end. Lines of a part lead to its sums and to its total, its last line."""

    part = serializers.CharField()
    key = serializers.CharField(help_text="What names the line, in every language.")
    name = serializers.CharField(source="label")
    kind = serializers.ChoiceField(choices=["line", "sum", "total"])
    amount = MoneyResponseField(source="money", allow_null=True, help_text="Null: not known.")
    note = serializers.CharField()


class YearEndViewSet(ListViewSet):
    """Stock, profit, cash and what stands beside it, of a period: of the last year that is over unless asked."""

    permission_classes = [SeesMoney]
    queryset = Posting.objects.none()
    serializer_class = StatementLineResponse
    filterset_class = YearEndFilter

    def filter_queryset(self, queryset: Any) -> Any:
        found = year_end(self.asked().period)
        parts = statement_of(found, Studio.current().currency)
        return [line for part in parts for line in part.lines]


class WriteDownItemRequest(RequestSerializer):
    """What a lot or a piece will bring."""

    lot = RowField(Lot.objects.all(), required=False)
    piece = RowField(Piece.objects.all(), required=False)
    value = MoneyField()
    note = serializers.CharField(required=False, max_length=200, allow_blank=True, default="")

    def validate(self, attrs: dict[str, Any]) -> WriteDownFacts:
        if ("lot" in attrs) == ("piece" in attrs):
            raise serializers.ValidationError(_("Give either a lot or a piece."))
        return WriteDownFacts(**attrs)


class WriteDownRequest(RequestSerializer):
    """Items that stand at what they will bring from a day on; at their cost again where that is more."""

    on = serializers.DateField()
    items = ListOf(child=WriteDownItemRequest(), allow_empty=False, max_length=MOST_ITEMS)


class WriteDownResponse(ResponseSerializer):
    """By how much an item stands below its cost from a day on; its latest row holds."""

    id = serializers.IntegerField(source="pk")
    lot = serializers.IntegerField(source="lot_id", allow_null=True)
    piece = serializers.IntegerField(source="piece_id", allow_null=True)
    on = serializers.DateField()
    cost = MoneyResponseField()
    value = MoneyResponseField()
    amount = MoneyResponseField()
    note = serializers.CharField()


class WrittenDownResponse(ResponseSerializer):
    """What was written, in the order in which it was asked."""

    items = WriteDownResponse(many=True)


class WriteDownViewSet(ListViewSet):
    """What stands below its cost, the latest first."""

    permission_classes = [OwnerWrites]
    queryset = WriteDown.objects.order_by("-on", "-pk")
    serializer_class = WriteDownResponse
    detail_serializer_class = WrittenDownResponse
    request_serializer_class = WriteDownRequest
    has_key = True

    def create(self, request: Request) -> Response:
        """Write items down or up again, all or none."""
        body = self.read_body()
        submission = self.submission(on=body["on"])
        rows = write_down_items(items=body["items"], submission=submission)
        return self.answer({"items": rows}, status=self.made_status)


VIEWSETS = {"year-end": YearEndViewSet, "write-downs": WriteDownViewSet}
