"""Filters of the list of reorder alerts."""

from django.db.models import QuerySet
from django.utils.translation import gettext_lazy

from inventory.reordering.models import Alert
from studio.pages.filters import FlagFilter, ListFilterSet


class ClearedFilter(FlagFilter):
    """Cleared alerts are left out unless they are asked for."""

    def filter(self, qs: QuerySet[Alert], value: bool | None) -> QuerySet[Alert]:
        return qs if value else qs.filter(cleared_at__isnull=True)


class AlertFilter(ListFilterSet):
    """Alerts; the open ones unless asked otherwise."""

    cleared = ClearedFilter(label=gettext_lazy("Include cleared alerts"))

    class Meta:
        model = Alert
        fields: list[str] = []
