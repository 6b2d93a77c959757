"""Filters of the list of consignment notes."""

import django_filters
from django.db.models import Q
from django.utils.translation import gettext_lazy

from costing.consignments.models import Consignment, ConsignmentLine
from costing.locations.models import Location, LocationKind
from costing.pieces.calculations import ENDS
from studio.pages.filters import ListFilterSet, StateFilter, first_day, last_day


def _with_a_piece_there() -> Q:
    there = ConsignmentLine.objects.filter(placement__followed_by__isnull=True)
    return Q(pk__in=there.exclude(placement__piece__state__in=ENDS).values("consignment"))


class ConsignmentFilter(ListFilterSet):
    """Consignment notes."""

    gallery = django_filters.ModelChoiceFilter(
        label=gettext_lazy("Gallery"), queryset=Location.objects.filter(kind=LocationKind.GALLERY)
    )
    state = StateFilter(
        {
            "all": (gettext_lazy("All"), Q()),
            "open": (gettext_lazy("Something is still there"), _with_a_piece_there()),
            "settled": (gettext_lazy("Settled"), ~_with_a_piece_there()),
        },
        label=gettext_lazy("Status"),
    )
    first = first_day("on")
    last = last_day("on")

    class Meta:
        model = Consignment
        fields: list[str] = []
