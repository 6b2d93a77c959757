"""Filters of the lists of stock, lots and stocktakes."""

from collections.abc import Collection, Mapping, Sequence
from datetime import timedelta
from functools import cached_property
from typing import Any

import django_filters
from django import forms
from django.core.exceptions import ValidationError
from django.db.models import Q, QuerySet
from django.utils import timezone
from django.utils.translation import gettext_lazy

from inventory.alerts.queries import alert_levels
from inventory.ledger.models import Lot
from inventory.materials.models import Kind, Material
from inventory.plans.queries import Promises
from inventory.purchasing.incoming import owed
from inventory.reordering.covers import covers
from inventory.reordering.queries import levels
from inventory.stock.availability import Cover
from inventory.stock.models import Stocktake
from inventory.stock.queries import LISTED_AT_MOST, NO_COVERS, ORDERS, MaterialStock, listed, stock_list
from studio.pages.filters import (
    DayFilter,
    FlagFilter,
    IncludeFilter,
    ListFilterSet,
    SearchFilter,
    SortFilter,
    first_day,
    last_day,
)
from studio.preferences.context import current_studio
from studio.search.matching import contains

DAYS_AHEAD = 30
OF_COVER = ("lasts_until", "order_by")  # orders that need to know of every material how long it lasts


class StockFilterForm(forms.Form):
    """Alerts are today's: they say nothing about a past day."""

    def clean(self) -> dict[str, Any]:
        asked = self.cleaned_data
        if asked.get("low") and asked.get("as_of"):
            raise ValidationError(
                {"low": gettext_lazy("Alerts are for today only. Leave out the past date, or this.")}
            )
        return asked


class StockFilter(ListFilterSet):
    """What the shelf holds of each material. Its figures are worked out, so it gives `rows` in place of a queryset."""

    search = SearchFilter(lambda word: contains(word, "name", "maker"))
    kind = django_filters.ChoiceFilter(label=gettext_lazy("Kind"), choices=Kind.choices)
    low = FlagFilter(
        label=gettext_lazy("Low"), help_text=gettext_lazy("Only what has an open reorder alert.")
    )
    expiring = FlagFilter(
        label=gettext_lazy("Expiring soon"), help_text=gettext_lazy("Only what expires within 30 days.")
    )
    expires_by = DayFilter(label=gettext_lazy("Expires by"))
    archived = IncludeFilter("is_archived", label=gettext_lazy("Include archived"))
    free = IncludeFilter("is_free", label=gettext_lazy("Include tap water and the like"))
    as_of = DayFilter(label=gettext_lazy("As of"), help_text=gettext_lazy("Stock at the end of this day."))
    sort = SortFilter(dict.fromkeys(ORDERS, ()), default="name", money=("money",))

    class Meta:
        model = Material
        form = StockFilterForm
        fields: list[str] = []

    def filter_queryset(self, queryset: QuerySet[Material]) -> QuerySet[Material]:
        """By what the database knows of a material; the others need its stock."""
        for name in ("search", "kind", "archived", "free"):
            queryset = self.filters[name].filter(queryset, self.form.cleaned_data.get(name))
        return queryset

    @cached_property
    def levels(self) -> dict[int, int]:
        """The reorder level of every material that has to be ordered; a past day has none."""
        return {} if self.value("as_of") else alert_levels()

    @cached_property
    def promises(self) -> Promises:
        return Promises(timezone.localdate())

    @cached_property
    def rows(self) -> list[MaterialStock]:
        """The materials that fit, in the order asked for; how long each lasts only where that is the order."""
        expires_by, promises = self.value("expires_by"), self.promises
        if expires_by is None and self.value("expiring"):
            expires_by = promises.today + timedelta(days=DAYS_AHEAD)
        of_today: dict[str, Any] = {"as_of": self.value("as_of")}
        if of_today["as_of"] is None:
            of_today = {
                "alerts": self.levels,
                "figures": promises.on(promises.today),
                "lots": promises.lots,
                "coming": owed(promises.arrivals),
                "covers": self._covers(None) if self.order.lstrip("-") in OF_COVER else NO_COVERS,
            }
        return stock_list(
            listed(self.qs),
            low_only=bool(self.value("low")),
            expires_by=expires_by,
            order=self.order,
            **of_today,
        )

    def with_covers(self, rows: Sequence[MaterialStock]) -> list[MaterialStock]:
        """The rows of one page with how long each lasts, which takes longer than all else; a past day has none."""
        if self.value("as_of"):
            return list(rows)
        found = self._covers([row.material.pk for row in rows])
        return [row._replace(cover=found.get(row.material.pk)) for row in rows]

    def _covers(self, materials: Collection[int] | None) -> Mapping[int, Cover]:
        today = self.promises.today
        if materials is not None and len(materials) > LISTED_AT_MOST:
            materials = None
        studio = current_studio(self.request) if self.request else None
        found = levels(today, materials=materials, studio=studio, promises=self.promises)
        return covers(found, today, self.promises.lots)


class LotFilter(ListFilterSet):
    """Lots."""

    material = django_filters.ModelChoiceFilter(
        label=gettext_lazy("Material"), queryset=Material.objects.all()
    )
    held = FlagFilter("balance", label=gettext_lazy("In stock"), method="in_stock")

    class Meta:
        model = Lot
        fields: list[str] = []

    def in_stock(self, queryset: QuerySet[Lot], name: str, value: bool) -> QuerySet[Lot]:
        """Lots that hold something now, or those that do not."""
        held = Q(balance__quantity__gt=0)
        return queryset.filter(held if value else ~held)


class StocktakeFilter(ListFilterSet):
    """Stocktakes, by the day they were made."""

    first = first_day("counted_on")
    last = last_day("counted_on")

    class Meta:
        model = Stocktake
        fields: list[str] = []
