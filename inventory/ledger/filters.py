"""Filters of the list of postings."""

import django_filters
from django.db.models import Q, QuerySet
from django.utils.translation import gettext_lazy

from inventory.ledger.models import Entry, Place, Posting, PostingKind, Reason
from inventory.materials.models import Material
from studio.pages.filters import ListFilterSet, SearchFilter, SortFilter, first_day, last_day
from studio.search.matching import contains
from studio.values.numbers import read_small_whole


def _fits(word: str) -> Q:
    fits = contains(word, "note", "recorded_by__username")
    number = read_small_whole(word)
    return fits if number is None else fits | Q(number=number)


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
    first = first_day("effective_on")
    last = last_day("effective_on")
    sort = SortFilter({"number": ("number",), "day": ("effective_on", "number")}, default="-number")

    class Meta:
        model = Posting
        fields: list[str] = []

    def filter_queryset(self, queryset: QuerySet[Posting]) -> QuerySet[Posting]:
        by_entry = {"material", "place", "reason"}
        asked = {name: value for name in by_entry if (value := self.value(name))}
        if asked:
            queryset = queryset.filter(pk__in=Entry.objects.filter(**asked).values("posting"))
        for name in self.filters.keys() - by_entry:
            queryset = self.filters[name].filter(queryset, self.value(name))
        return queryset
