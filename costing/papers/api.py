"""The price list for programs. All of it is money, so helpers without it are refused."""

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from costing.papers.actions import keep_list
from costing.papers.filters import PriceListFilter
from costing.papers.models import PrintedList
from costing.papers.printed_lists import ListNow, lists_now
from costing.pieces.models import Piece
from studio.accounts.permissions import SeesMoney
from studio.api.fields import MoneyResponseField, RowField
from studio.api.serializers import ListOf, RequestSerializer, ResponseSerializer
from studio.api.viewsets import ListViewSet

MOST_PIECES = 1_000


class PriceListRowResponse(ResponseSerializer):
    """One row of the price list. Sizes stand height first."""

    piece = serializers.IntegerField(source="piece.pk")
    code = serializers.CharField()
    title = serializers.CharField()
    size_cm = serializers.CharField()
    size_in = serializers.CharField()
    medium = serializers.CharField(help_text="As a buyer reads it.")
    year = serializers.CharField()
    note = serializers.CharField()
    price = MoneyResponseField(source="piece.price", help_text="Tax included.")
    price_formatted = serializers.CharField(source="price")


class PriceListViewSet(ListViewSet):
    """The rows of the price list; pieces without a price are left out."""

    permission_classes = [SeesMoney]
    queryset = Piece.objects.all()
    serializer_class = PriceListRowResponse
    filterset_class = PriceListFilter

    def filter_queryset(self, queryset: Any) -> Any:
        return self.asked().price_list.rows


class PrintedListRequest(RequestSerializer):
    """Pieces of a list that was printed, at the prices that they have."""

    pieces = ListOf(child=RowField(Piece.objects.all()), allow_empty=False, max_length=MOST_PIECES)
    on = serializers.DateField()
    place = serializers.CharField(required=False, allow_blank=True, max_length=80, default="")


class PrintedListResponse(ResponseSerializer):
    """A printed list beside what holds now: pieces with another price, and those that have left since."""

    id = serializers.IntegerField(source="printed.pk")
    on = serializers.DateField(source="printed.on")
    place = serializers.CharField(source="printed.place")
    count = serializers.IntegerField()
    repriced = serializers.SerializerMethodField()
    gone = serializers.SerializerMethodField()
    is_out_of_date = serializers.BooleanField()

    @extend_schema_field(serializers.ListField(child=serializers.IntegerField()))
    def get_repriced(self, row: ListNow) -> list[int]:
        return [piece.pk for piece in row.repriced]

    @extend_schema_field(serializers.ListField(child=serializers.IntegerField()))
    def get_gone(self, row: ListNow) -> list[int]:
        return [piece.pk for piece in row.gone]


class PrintedListViewSet(ListViewSet):
    """Price lists that were kept when they were printed, the latest first."""

    permission_classes = [SeesMoney]
    queryset = PrintedList.objects.all()
    serializer_class = PrintedListResponse
    request_serializer_class = PrintedListRequest
    has_key = True

    def paginate_queryset(self, queryset: Any) -> Any:
        return lists_now(super().paginate_queryset(queryset) or [])

    def details_of(self, row: PrintedList) -> ListNow:
        return lists_now([row])[0]

    def create(self, request: Request) -> Response:
        """Keep a list as it was printed."""
        return self.post_once(lambda body: keep_list(submission=self.submission(), **body))


VIEWSETS = {"price-list": PriceListViewSet, "printed-lists": PrintedListViewSet}
