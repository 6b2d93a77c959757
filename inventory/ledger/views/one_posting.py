"""One posting, row by its number, and the page of what made it."""

from typing import Any

from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils.translation import gettext_lazy

from inventory.ledger.models import Posting, PostingKind

ORIGINS = {
    "session": gettext_lazy("Session"),
    "delivery": gettext_lazy("Delivery"),
    "stocktake": gettext_lazy("Stocktake"),
}


def posting_or_404(number: int) -> Posting:
    corrected = [f"corrects__{name}" for name in ORIGINS]
    postings = Posting.objects.select_related(
        "recorded_by", "reverses", "reversed_by", *ORIGINS, "corrects", *corrected
    )
    return get_object_or_404(postings, pk=number)


def origin_of(posting: Posting) -> dict[str, Any] | None:
    """What made a posting, such as its session, with a label and the address of its page."""
    if posting.kind == PostingKind.OPENING:  # what stands beneath finished pieces is no session of hers
        return None
    for name, label in ORIGINS.items():
        row = getattr(posting, name, None) or getattr(posting.corrects, name, None)
        if row is not None:
            return {"label": label, "row": row, "url": reverse(f"inventory:{name}", args=[row.pk])}
    return None


def origin_url(posting: Posting) -> str:
    """The page of what made a posting; else the posting's own."""
    origin = origin_of(posting)
    return origin["url"] if origin else reverse("inventory:posting", args=[posting.number])
