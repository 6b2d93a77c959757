"""Filters of the history of where pieces were."""

import django_filters
from django.utils.translation import gettext_lazy

from costing.locations.models import Location, Placement
from costing.pieces.models import Piece
from studio.pages.filters import FlagFilter, ListFilterSet, first_day, last_day


class PlacementFilter(ListFilterSet):
    """Placements, those that hold now alone with `current`."""

    piece = django_filters.ModelChoiceFilter(label=gettext_lazy("Piece"), queryset=Piece.objects.all())
    location = django_filters.ModelChoiceFilter(
        label=gettext_lazy("Location"), queryset=Location.objects.all()
    )
    current = FlagFilter("followed_by", "isnull", label=gettext_lazy("Now"))
    first = first_day("on")
    last = last_day("on")

    class Meta:
        model = Placement
        fields: list[str] = []
