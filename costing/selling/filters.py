"""Filters of the list of sales."""

from typing import Any

import django_filters
from django import forms
from django.db.models import Case, F, Q, QuerySet, When
from django.utils.translation import gettext_lazy

from costing.pieces.models import Piece
from costing.pieces.queries import on_canvas
from costing.pricing.models import SalesChannel
from costing.selling.models import Sale
from studio.pages.filters import (
    FlagFilter,
    ListFilterSet,
    MonthFilter,
    SearchFilter,
    SortFilter,
    first_day,
    last_day,
)

# `Sale.net_proceeds` for the database. A sale that was returned brought nothing: it has no figure to be sorted by.
PROCEEDS = Case(
    When(
        returned_on__isnull=True,
        then=F("price") - F("tax") - F("commission") - F("card_fee") - F("fixed_fee"),
    )
)


def _fits(word: str) -> Q:
    return (
        Q(piece__title__icontains=word)
        | Q(note__icontains=word)
        | Q(channel__name__icontains=word)
        | Q(piece__in=on_canvas(word).values("pk"))
    )


class SaleFilter(ListFilterSet):
    """Sales."""

    search = SearchFilter(_fits)
    channel = django_filters.ModelChoiceFilter(
        label=gettext_lazy("Sales channel"), queryset=SalesChannel.objects.all()
    )
    piece = django_filters.ModelChoiceFilter(
        label=gettext_lazy("Piece"), queryset=Piece.objects.all(), widget=forms.HiddenInput
    )
    month = MonthFilter("sold_on")
    first = first_day("sold_on")
    last = last_day("sold_on")
    sort = SortFilter(
        {
            "day": ("sold_on", "pk"),
            "piece": ("piece__title", "pk"),
            "channel": ("channel__name", "pk"),
            "price": ("price", "pk"),
            "proceeds": ("proceeds", "pk"),
        },
        default="-day",
        money=("price", "proceeds"),
        nullable=("proceeds",),
    )
    returned = FlagFilter("returned_on", "isnull", exclude=True, label=gettext_lazy("Returned"))

    class Meta:
        model = Sale
        fields: list[str] = []

    def filter_queryset(self, queryset: QuerySet[Any]) -> QuerySet[Any]:
        return super().filter_queryset(queryset.alias(proceeds=PROCEEDS))
