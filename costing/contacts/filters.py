"""Filters of the list of contacts."""

from django.db.models import Q

from costing.contacts.models import Contact
from studio.pages.filters import ListFilterSet, SearchFilter
from studio.search.matching import contains


def _fits(word: str) -> Q:
    return contains(word, "name", "reach", "note")


class ContactFilter(ListFilterSet):
    """Contacts."""

    search = SearchFilter(_fits)

    class Meta:
        model = Contact
        fields: list[str] = []
