"""Filters of the list of materials."""

import django_filters
from django.db.models import Q, QuerySet
from django.utils.translation import gettext_lazy

from inventory.materials.models import Kind, Material, Supply
from inventory.materials.packs import LONGEST_CODE, same_gtins
from studio.pages.filters import ListFilterSet, SearchFilter, SortFilter, StateFilter
from studio.search.matching import contains


class MaterialFilter(ListFilterSet):
    """Materials by words, by kind, and by whether they are archived: active ones where nothing is asked for."""

    search = SearchFilter(lambda word: contains(word, "name", "maker"))
    kind = django_filters.ChoiceFilter(
        label=gettext_lazy("Kind"), choices=Kind.choices, empty_label=gettext_lazy("Any")
    )
    show = StateFilter(
        {
            "active": (gettext_lazy("Active"), Q(is_archived=False)),
            "all": (gettext_lazy("Include archived"), Q()),
            "archived": (gettext_lazy("Archived only"), Q(is_archived=True)),
        },
        label=gettext_lazy("Show"),
        required=False,
    )
    sort = SortFilter({"name": ["name", "pk"], "kind": ["kind", "name", "pk"]}, default="name")

    class Meta:
        model = Material
        fields: list[str] = []


class PackFilter(ListFilterSet):
    """Packs, by the number under the bars."""

    gtin = django_filters.CharFilter(
        label=gettext_lazy("Barcode"), max_length=LONGEST_CODE, method="with_gtin"
    )

    class Meta:
        model = Supply
        fields: list[str] = []

    def with_gtin(self, packs: QuerySet[Supply], name: str, code: str | None) -> QuerySet[Supply]:
        """Packs with this GTIN, whatever zeros stand before it."""
        return packs.filter(barcode__in=same_gtins("".join(code.split()))) if code else packs
