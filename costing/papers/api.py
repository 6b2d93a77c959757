"""The price list for programs. All of it is money, so helpers without it are refused."""

from typing import Any

from rest_framework import serializers

from costing.papers.filters import PriceListFilter
from costing.pieces.models import Piece
from studio.accounts.permissions import SeesMoney
from studio.api.fields import MoneyResponseField
from studio.api.serializers import ResponseSerializer
from studio.api.viewsets import ListViewSet


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


VIEWSETS = {"price-list": PriceListViewSet}
