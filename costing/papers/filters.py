"""Filters of the price list."""

import django_filters
from django.utils.translation import gettext_lazy

from costing.papers.queries import Order, Pictures, PriceList, price_list
from costing.pieces.calculations import State
from costing.pieces.models import Piece, PieceState
from inventory.sessions.models import Technique
from studio.pages.filters import SORT, ListFilterSet

LISTED = (State.FOR_SALE, State.RESERVED, State.FINISHED)


class PriceListFilter(ListFilterSet):
    """What stands on the price list: what is for sale, unless another state is asked for."""

    state = django_filters.ChoiceFilter(
        label=gettext_lazy("Status"),
        choices=[(state.value, PieceState(state.value).label) for state in LISTED],
    )
    technique = django_filters.ModelChoiceFilter(
        label=gettext_lazy("Technique"), queryset=Technique.objects.all(), field_name="parts__pour__technique"
    )
    sort = django_filters.ChoiceFilter(
        label=gettext_lazy("Sort by"), choices=[(order.value, order.value) for order in Order]
    )

    class Meta:
        model = Piece
        fields: list[str] = []

    @property
    def price_list(self) -> PriceList:
        """The rows to print, and the pieces that have no price."""
        technique = self.value("technique")
        return price_list(
            states=[self.value("state") or State.FOR_SALE],
            technique=technique.pk if technique else None,
            order=Order(self.value(SORT) or Order.TITLE),
            pictures=Pictures.NONE,
        )
