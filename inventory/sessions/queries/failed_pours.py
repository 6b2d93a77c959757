"""Who carries the time of failed pours that were thrown away as a normal loss: whoever carries their material."""

from collections import defaultdict
from collections.abc import Iterable

from inventory.ledger.models import Entry, Place, PostingKind, Reason
from inventory.ledger.movements import outgoing, recorded_movements

Shares = dict[int | None, int]  # by pour, as weights; by None what the period carries
Losses = list[tuple[int, Shares]]


def shares_of_normal_losses(pours: Iterable[int]) -> Losses:
    """Each of these pours that was a normal loss, oldest first, with its shares: three queries.

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
    movements = recorded_movements(outgoing(left).order_by("posting_id", "line"))
    reasons = set(normal) if movements else set()
    shares: dict[int, Shares] = defaultdict(lambda: defaultdict(int))
    for each in movements:
        to = each.destination
        if to.pour is not None or to.reason in reasons:
            shares[each.source.pour or 0][to.pour] += each.quantity
    return list(shares.items())
