"""Filters of the lists of deliveries and orders."""

import django_filters
from django.db.models import Q, QuerySet, Sum
from django.utils.translation import gettext_lazy, pgettext_lazy

from inventory.materials.models import Supplier
from inventory.purchasing.models import Delivery, DeliveryLine, Order, OrderLine
from studio.pages.filters import (
    ListFilterSet,
    SearchFilter,
    SortFilter,
    StateFilter,
    YearFilter,
    first_day,
    last_day,
)
from studio.search.matching import contains
from studio.values.numbers import read_small_whole


def _fits_delivery(word: str) -> Q:
    lines = DeliveryLine.objects.filter(contains(word, "lot__material__name", "lot__supplier_batch"))
    return contains(word, "reference", "supplier__name") | Q(pk__in=lines.values("delivery"))


def _fits_order(word: str) -> Q:
    lines = OrderLine.objects.filter(contains(word, "material__name"))
    fits = contains(word, "reference", "supplier__name") | Q(pk__in=lines.values("order"))
    number = read_small_whole(word)
    return fits if number is None else fits | Q(number=number)


class DeliveryFilter(ListFilterSet):
    """Deliveries, each with `landed`: what all of it cost on the shelf, in millionths."""

    search = SearchFilter(_fits_delivery)
    supplier = django_filters.ModelChoiceFilter(
        label=gettext_lazy("Supplier"), queryset=Supplier.objects.all()
    )
    year = YearFilter("received_on")
    first = first_day("received_on")
    last = last_day("received_on")
    sort = SortFilter(
        {
            "day": ("received_on", "pk"),
            "supplier": ("supplier__name", "received_on", "pk"),
            "reference": ("reference", "pk"),
            "cost": ("landed", "pk"),
        },
        default="-day",
        money=("cost",),
    )

    class Meta:
        model = Delivery
        fields: list[str] = []

    def filter_queryset(self, queryset: QuerySet[Delivery]) -> QuerySet[Delivery]:
        return super().filter_queryset(queryset.annotate(landed=Sum("lines__landed")))


class OrderFilter(ListFilterSet):
    """Orders; the open ones unless asked otherwise."""

    search = SearchFilter(_fits_order)
    state = StateFilter(
        {
            "open": (pgettext_lazy("orders", "Open"), Q(is_closed=False)),
            "closed": (gettext_lazy("Closed"), Q(is_closed=True)),
            "all": (gettext_lazy("All"), Q()),
        },
        label=gettext_lazy("Show"),
    )
    supplier = django_filters.ModelChoiceFilter(
        label=gettext_lazy("Supplier"), queryset=Supplier.objects.all()
    )
    sort = SortFilter(
        {
            "ordered": ("ordered_on", "pk"),
            "expected": ("expected_on", "pk"),
            "supplier": ("supplier__name", "pk"),
        },
        default="expected",
    )

    class Meta:
        model = Order
        fields: list[str] = []
