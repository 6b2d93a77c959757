"""What the list of plans can be narrowed down by."""

from django.db.models import Q
from django.utils.translation import gettext_lazy, pgettext_lazy

from inventory.plans.models import Plan, PlanLine
from studio.pages.filters import ListFilterSet, SearchFilter, SortFilter, StateFilter
from studio.search.matching import contains

OPEN = Q(session__isnull=True) | Q(session__posting__reversed_by__isnull=False)


def _fits(word: str) -> Q:
    lines = PlanLine.objects.filter(contains(word, "surface__name", "technique__name"))
    return contains(word, "name", "notes") | Q(pk__in=lines.values("plan"))


class PlanFilter(ListFilterSet):
    """Plans; those that wait to be poured unless asked otherwise."""

    search = SearchFilter(_fits)
    state = StateFilter(
        {
            "open": (pgettext_lazy("plans", "To pour"), OPEN),
            "poured": (pgettext_lazy("plans", "Poured"), ~OPEN),
            "all": (gettext_lazy("All"), Q()),
        },
        label=gettext_lazy("Show"),
    )
    sort = SortFilter({"day": ("planned_on", "pk"), "name": ("name", "pk")}, default="day")

    class Meta:
        model = Plan
        fields: list[str] = []
