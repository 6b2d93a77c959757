"""Filters of the list of postings."""

from collections.abc import Collection

import django_filters
from django.db.models import Q, QuerySet
from django.utils.translation import gettext_lazy

from inventory.ledger.models import Entry, Place, Posting, PostingKind, Reason, ReasonKind
from inventory.materials.models import Material
from studio.pages.filters import ListFilterSet, SearchFilter, SortFilter, first_day, last_day
from studio.search.matching import contains
from studio.values.numbers import read_small_whole


def _fits(word: str) -> Q:
    fits = contains(word, "note", "recorded_by__username")
    number = read_small_whole(word)
    return fits if number is None else fits | Q(number=number)


BY_ENTRY = ("material", "place", "reason", "way")
DAYS = ("first", "last")


class PostingFilter(ListFilterSet):
    """Postings; those with an entry of a material, place and reason are those where one entry has all three."""

    search = SearchFilter(_fits)
    kind = django_filters.ChoiceFilter(label=gettext_lazy("Kind"), choices=PostingKind.choices)
    material = django_filters.ModelChoiceFilter(
        "entries__material", label=gettext_lazy("Material"), queryset=Material.objects.filter(is_free=False)
    )
    place = django_filters.ChoiceFilter(label=gettext_lazy("Account"), choices=Place.choices)
    reason = django_filters.ModelChoiceFilter(
        "entries__reason", label=gettext_lazy("Reason"), queryset=Reason.objects.all()
    )
    way = django_filters.ChoiceFilter(
        label=gettext_lazy("Kind of reason"),
        choices=ReasonKind.choices,
        help_text=gettext_lazy("Stocktake differences are what was missing and what was found."),
    )
    first = first_day("effective_on")
    last = last_day("effective_on")
    sort = SortFilter({"number": ("number",), "day": ("effective_on", "number")}, default="-number")

    class Meta:
        model = Posting
        fields: list[str] = []

    def filter_queryset(self, queryset: QuerySet[Posting]) -> QuerySet[Posting]:
        if any(self.value(name) for name in BY_ENTRY):
            queryset = queryset.filter(pk__in=Entry.objects.filter(self._of_entries()).values("posting"))
        return self._but_by(queryset, BY_ENTRY)

    @property
    def is_of_losses(self) -> bool:
        """Whether it asks what was lost, given away or found, so that entries say more than their postings."""
        return bool(
            self.value("reason") or self.value("way") or self.value("place") in (Place.LOSS, Place.GAIN)
        )

    @property
    def entries(self) -> QuerySet[Entry]:
        """Entries of losses and gains that fit, each by its own day, as a statement sums them up."""
        days = {"effective_on__gte": self.value("first"), "effective_on__lte": self.value("last")}
        asked = {name: day for name, day in days.items() if day}
        fitting = self._but_by(Posting.objects.all(), (*BY_ENTRY, *DAYS, "sort"))
        found = Entry.objects.filter(self._of_entries(), place__in=(Place.LOSS, Place.GAIN), **asked)
        return found.filter(posting__in=fitting.order_by().values("pk"))

    def _of_entries(self) -> Q:
        fits = Q(**{name: value for name in BY_ENTRY[:3] if (value := self.value(name))})
        if way := self.value("way"):
            of_way = Q(reason__kind=way)
            fits &= of_way | Q(place=Place.GAIN) if way == ReasonKind.COUNT else of_way
        return fits

    def _but_by(self, queryset: QuerySet[Posting], names: Collection[str]) -> QuerySet[Posting]:
        for name in self.filters.keys() - set(names):
            queryset = self.filters[name].filter(queryset, self.value(name))
        return queryset
