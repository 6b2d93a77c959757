"""Filters of the list of sales."""

from typing import Any

import django_filters
from django import forms
from django.db.models import F, Min, OuterRef, Q, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce
from django.utils.translation import gettext_lazy

from costing.pieces.models import Piece
from costing.pieces.queries import on_canvas
from costing.pricing.models import SalesChannel
from costing.selling.models import Refund, Sale, SaleLine
from studio.pages.filters import (
    FlagFilter,
    ListFilterSet,
    MonthFilter,
    SearchFilter,
    SortFilter,
    first_day,
    last_day,
)
from studio.search.matching import contains
from studio.values.numbers import read_small_whole

# `SaleFigures.total` for the database.
_NET = (
    F("price")
    + F("postage")
    - F("postage_paid")
    - F("tax")
    - F("commission")
    - F("card_fee")
    - F("fixed_fee")
)
_LINES = SaleLine.objects.filter(sale=OuterRef("pk")).order_by().values("sale")
_REFUNDS = Refund.objects.filter(line__sale=OuterRef("pk")).order_by().values("line__sale")
PROCEEDS = Subquery(_LINES.values(sum=Sum(_NET))) - Coalesce(
    Subquery(_REFUNDS.values(sum=Sum(F("amount") - F("tax") - F("fees")))), 0
)


def _fits(word: str) -> Q:
    lines = SaleLine.objects.filter(
        contains(word, "piece__title") | Q(piece__in=on_canvas(word).values("pk"))
    )
    fits = Q(pk__in=lines.values("sale")) | contains(word, "note", "channel__name")
    number = read_small_whole(word)
    return fits | Q(number=number) if number else fits


class SaleFilter(ListFilterSet):
    """Sales."""

    search = SearchFilter(_fits)
    channel = django_filters.ModelChoiceFilter(
        label=gettext_lazy("Sales channel"), queryset=SalesChannel.objects.all()
    )
    piece = django_filters.ModelChoiceFilter(
        field_name="lines__piece",
        label=gettext_lazy("Piece"),
        queryset=Piece.objects.all(),
        widget=forms.HiddenInput,
        distinct=True,
    )
    month = MonthFilter("sold_on")
    first = first_day("sold_on")
    last = last_day("sold_on")
    sort = SortFilter(
        {
            "day": ("sold_on", "pk"),
            "piece": ("first_title", "pk"),
            "channel": ("channel__name", "pk"),
            "price": ("total_price", "pk"),
            "proceeds": ("proceeds", "pk"),
        },
        default="-day",
        money=("price", "proceeds"),
    )
    returned = FlagFilter(method="with_returned", label=gettext_lazy("Returned"))

    class Meta:
        model = Sale
        fields: list[str] = []

    def with_returned(self, sales: QuerySet[Sale], name: str, value: bool) -> QuerySet[Sale]:
        """Sales of which a piece came back, or of which none did."""
        returned = SaleLine.objects.filter(returned_on__isnull=False).values("sale")
        return sales.filter(pk__in=returned) if value else sales.exclude(pk__in=returned)

    def filter_queryset(self, queryset: QuerySet[Any]) -> QuerySet[Any]:
        return super().filter_queryset(
            queryset.alias(
                proceeds=PROCEEDS,
                total_price=Subquery(_LINES.values(sum=Sum("price"))),
                first_title=Subquery(_LINES.values(first=Min("piece__title"))),
            )
        )
