"""Filters of the change log."""

from typing import Any

import django_filters
from auditlog.models import LogEntry
from django.db.models import Q, QuerySet
from django.utils.translation import gettext_lazy

from studio.accounts.models import User
from studio.auditing.recording import recorded_models
from studio.auditing.wording import noun
from studio.pages.filters import DayFilter, ListFilterSet, SearchFilter
from studio.search.matching import contains


def _kinds() -> list[tuple[str, str]]:
    return [(model._meta.label_lower, noun(model)) for model in recorded_models()]


class ChangeFilter(ListFilterSet):
    """Changes, by the name of the row, its kind, the person and the day."""

    search = SearchFilter(
        lambda word: contains(word, "object_repr") | Q(additional_data__name__icontains=word)
    )
    kind = django_filters.ChoiceFilter(label=gettext_lazy("What"), choices=_kinds, method="of_kind")
    by = django_filters.ModelChoiceFilter(
        field_name="actor", label=gettext_lazy("Who"), queryset=User.objects.order_by("username")
    )
    first = DayFilter("timestamp", "date__gte", label=gettext_lazy("From"))
    last = DayFilter("timestamp", "date__lte", label=gettext_lazy("To"))

    class Meta:
        model = LogEntry
        fields: list[str] = []

    def of_kind(self, queryset: QuerySet[Any], name: str, kind: str) -> QuerySet[Any]:
        app_label, _dot, model = kind.partition(".")
        return queryset.filter(content_type__app_label=app_label, content_type__model=model)
