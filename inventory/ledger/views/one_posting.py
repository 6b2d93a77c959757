"""One posting, found by its number, and the page of what made it."""

from django.shortcuts import get_object_or_404
from django.urls import reverse

from inventory.ledger.models import Posting

ORIGINS = ("session", "delivery", "stocktake")


def posting_or_404(number: int) -> Posting:
    found = Posting.objects.select_related("recorded_by", "reverses", "reversed_by", *ORIGINS)
    return get_object_or_404(found, pk=number)


def origin_of(found: Posting) -> str:
    """The page of what made a posting, such as its session; else the posting's own."""
    for name in ORIGINS:
        thing = getattr(found, name, None)
        if thing is not None:
            return reverse(f"inventory:{name}", args=[thing.pk])
    return reverse("inventory:posting", args=[found.number])
