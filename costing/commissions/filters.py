"""Filters of the list of commissions."""

from django.db.models import Q
from django.utils.translation import gettext_lazy

from costing.commissions.models import Commission, CommissionState
from studio.pages.filters import ListFilterSet, SearchFilter, StateFilter, first_day, last_day
from studio.search.matching import contains


def _fits(word: str) -> Q:
    return contains(word, "wanted")


class CommissionFilter(ListFilterSet):
    """Commissions."""

    search = SearchFilter(_fits)
    state = StateFilter(
        {"all": (gettext_lazy("All"), Q())}
        | {state.value: (state.label, Q(state=state.value)) for state in CommissionState},
        label=gettext_lazy("Status"),
    )
    first = first_day("agreed_on")
    last = last_day("agreed_on")

    class Meta:
        model = Commission
        fields: list[str] = []
