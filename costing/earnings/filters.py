"""What is asked of the earnings: which sales, and what they are sorted by."""

from datetime import date

import django_filters
from django import forms
from django.db.models import Min, QuerySet
from django.utils.translation import gettext_lazy

from costing.earnings.queries import BY, Earned, Group, earned_by, fees_between
from costing.pricing.models import SalesChannel
from costing.selling.models import Sale
from studio.pages.filters import ListFilterSet, first_day, last_day
from studio.preferences.formatting import Formatter

BY_LABELS = {
    "piece": gettext_lazy("Piece"),
    "series": gettext_lazy("Series"),
    "size": gettext_lazy("Size"),
    "technique": gettext_lazy("Technique"),
    "medium": gettext_lazy("Medium"),
    "channel": gettext_lazy("Sales channel"),
    "market": gettext_lazy("Market day"),
    "month": gettext_lazy("Month"),
}
USUAL = "channel"
# The usual one first: it is what a page shows that was not asked for another.
CHOICES = [(name, BY_LABELS[name]) for name in sorted(BY, key=lambda name: name != USUAL)]
LONGEST_KEY = 200


class EarningsFilter(ListFilterSet):
    """Sales by day and channel. `by` names the groups; `within` and `key` one group that is looked into."""

    first = first_day("sold_on")
    last = last_day("sold_on")
    by = django_filters.ChoiceFilter(
        label=gettext_lazy("Group by"), choices=CHOICES, empty_label=None, method="leave"
    )
    channel = django_filters.ModelChoiceFilter(
        label=gettext_lazy("Sales channel"), queryset=SalesChannel.objects.all()
    )
    within = django_filters.ChoiceFilter(choices=CHOICES, widget=forms.HiddenInput, method="leave")
    key = django_filters.CharFilter(max_length=LONGEST_KEY, widget=forms.HiddenInput, method="leave")

    class Meta:
        model = Sale
        fields: list[str] = []

    def leave(self, sales: QuerySet[Sale], name: str, value: str) -> QuerySet[Sale]:
        """Groups are made of what was read, not by the database."""
        return sales

    @property
    def sorted_by(self) -> str:
        return str(self.value("by") or USUAL)

    def everything(self, formatter: Formatter, *, today: date) -> Earned:
        """What the sales asked for earned, with the monthly fees of their period."""
        first, last, channel = (self.value(name) for name in ("first", "last", "channel"))
        return earned_by(self.qs, formatter, fees_between(first, last, channel, today=today))

    def period(self, *, today: date) -> tuple[date | None, date]:
        """The days asked for, or from the first of these sales to today; no first day where nothing was sold."""
        first = self.value("first") or self.qs.aggregate(first=Min("sold_on"))["first"]
        return first, min(self.value("last") or today, today)

    def looked_into(self, earned: Earned) -> Earned:
        """Only the group that is looked into, if any."""
        within = self.value("within")
        return earned.within(within, self.value("key") or "") if within else earned

    def groups(self, earned: Earned) -> list[Group]:
        return self.looked_into(earned).groups(self.sorted_by)
