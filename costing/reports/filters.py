"""The period that a program asks about."""

from typing import Any

import django_filters
from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext_lazy

from costing.reports.forms import too_early, usual_period
from costing.reports.queries import Period
from inventory.ledger.models import Posting
from inventory.ledger.posting import EARLIEST_YEAR
from studio.errors import InputError
from studio.pages.filters import ListFilterSet
from studio.translation import _


class YearEndFilter(ListFilterSet):
    """The last year that is over, unless both days say otherwise."""

    first = django_filters.DateFilter(label=gettext_lazy("From"), method="leave")
    last = django_filters.DateFilter(label=gettext_lazy("To"), method="leave")

    class Meta:
        model = Posting
        fields: list[str] = []

    def leave(self, rows: QuerySet[Any], name: str, value: Any) -> QuerySet[Any]:
        """The statement reads the period by itself."""
        return rows

    @property
    def period(self) -> Period:
        """Raises InputError, naming the day that is missing or wrong."""
        first, last = self.value("first"), self.value("last")
        if first is None and last is None:
            return usual_period(timezone.localdate())
        if first is None or last is None:
            raise InputError(_("Enter this day too."), field="first" if first is None else "last")
        if not first <= last <= timezone.localdate():
            raise InputError(_("Use a day from the first one to today."), field="last")
        if first.year < EARLIEST_YEAR:
            raise InputError(too_early(), field="first")
        return Period(first, last)
