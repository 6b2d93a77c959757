"""Who carries the time of failed pours that were thrown away as a normal loss: whoever carries their material."""

from collections import defaultdict
from collections.abc import Iterable

from django.db.models import OuterRef, Subquery

from inventory.ledger.models import Entry, Place, PostingKind, Reason
from inventory.ledger.movements import outgoing

Shares = dict[int | None, int]  # by pour, as weights; by None what the period carries
Losses = list[tuple[int, Shares]]


def shares_of_normal_losses(pours: Iterable[int]) -> Losses:
    """Each of these pours that was a normal loss, oldest first, with its shares: two queries.

    They are those of its material: every material of a pour was shared out alike.
    """
    normal = Reason.objects.filter(kind=Reason.Kind.NORMAL).values_list("pk", flat=True)
    left = Entry.objects.filter(
        pour__in=list(pours),
        place=Place.WORK,
        quantity__lt=0,
        posting__kind=PostingKind.POUR_WRITE_OFF,
        posting__reversed_by__isnull=True,
    )
    destinations = Entry.objects.filter(posting=OuterRef("posting"), line=OuterRef("line") + 1)
    movements = list(
        outgoing(left)
        .order_by("posting_id", "line")
        .values_list(
            "pour_id",
            "quantity",
            Subquery(destinations.values("pour_id")[:1]),
            Subquery(destinations.values("reason_id")[:1]),
        )
    )
    reasons = set(normal) if movements else set()
    shares: dict[int, Shares] = defaultdict(lambda: defaultdict(int))
    for pour, quantity, to_pour, to_reason in movements:
        if to_pour is not None or to_reason in reasons:
            shares[pour][to_pour] -= quantity
    return list(shares.items())
