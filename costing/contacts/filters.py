"""Filters of the list of contacts."""

from django.db.models import Q

from costing.contacts.models import Contact
from studio.pages.filters import ListFilterSet, SearchFilter


def _fits(word: str) -> Q:
    return Q(name__icontains=word) | Q(reach__icontains=word) | Q(note__icontains=word)


class ContactFilter(ListFilterSet):
    """Contacts."""

    search = SearchFilter(_fits)

    class Meta:
        model = Contact
        fields: list[str] = []
