"""Filters of the list of comparisons."""

import django_filters
from django.db.models import Q, QuerySet
from django.utils.translation import gettext_lazy

from inventory.comparisons.models import Comparison, ComparisonArm, PhotoCount, VariedChoice
from studio.pages.filters import FlagFilter, ListFilterSet, SearchFilter, SortFilter
from studio.search.matching import contains


def _fits(word: str) -> Q:
    arms = ComparisonArm.objects.filter(contains(word, "name"))
    return contains(word, "name", "notes") | Q(pk__in=arms.values("comparison"))


class ComparisonFilter(ListFilterSet):
    """Comparisons, newest first."""

    search = SearchFilter(_fits)
    varied = django_filters.ChoiceFilter(
        label=gettext_lazy("What differs on purpose"), choices=VariedChoice.choices
    )
    finished = FlagFilter(method="are_finished", label=gettext_lazy("Finished"))
    sort = SortFilter({"day": ("started_on", "pk"), "name": ("name", "pk")}, default="-day")

    class Meta:
        model = Comparison
        fields: list[str] = []

    def are_finished(
        self, queryset: QuerySet[Comparison], name: str, finished: bool | None
    ) -> QuerySet[Comparison]:
        return queryset if finished is None else queryset.filter(finished_at__isnull=not finished)


class PhotoCountFilter(ListFilterSet):
    """Counts on photos, newest first."""

    comparison = django_filters.ModelChoiceFilter(
        field_name="pour__comparison", queryset=Comparison.objects.all(), label=gettext_lazy("Comparison")
    )
    finished = FlagFilter(method="are_finished", label=gettext_lazy("Finished"))

    class Meta:
        model = PhotoCount
        fields: list[str] = []

    def are_finished(
        self, queryset: QuerySet[PhotoCount], name: str, finished: bool | None
    ) -> QuerySet[PhotoCount]:
        return queryset if finished is None else queryset.filter(finished_at__isnull=not finished)
