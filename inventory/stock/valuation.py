"""Where every millionth of material money is: the ledger summed by place, now or to the end of a day."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from django.db.models import Sum

from inventory.ledger.models import Entry, Place, Reason


@dataclass(frozen=True, slots=True)
class Worth:
    """Where every millionth of material money is: received + gains = shelf + work + sold + losses."""

    shelf_by_kind: dict[str, int]
    in_work: int
    in_sold: int
    losses: tuple[tuple[Reason, int], ...]
    gains: int
    received: int

    @property
    def on_shelf(self) -> int:
        return sum(self.shelf_by_kind.values())

    @property
    def lost(self) -> int:
        return sum(money for _, money in self.losses)

    @property
    def adds_up(self) -> bool:
        return self.received + self.gains == self.on_shelf + self.in_work + self.in_sold + self.lost


def worth_by_place(as_of: date | None = None) -> Worth:
    """Sum the ledger's money by place, to the end of a day by the postings' own dates or to now."""
    entries = Entry.objects.all() if as_of is None else Entry.objects.filter(effective_on__lte=as_of)
    totals: dict[str, int] = defaultdict(int)
    shelf: dict[str, int] = defaultdict(int)
    losses: dict[int, int] = defaultdict(int)
    rows = entries.order_by().values_list("place", "reason_id", "material__kind").annotate(total=Sum("money"))
    for place, reason, kind, money in rows:
        totals[place] += money
        if place == Place.LOT:
            shelf[kind] += money
        elif place == Place.LOSS:
            losses[reason] += money
    reasons = Reason.objects.in_bulk(losses)
    return Worth(
        shelf_by_kind={kind: money for kind, money in sorted(shelf.items()) if money},
        in_work=totals[Place.WORK],
        in_sold=totals[Place.SOLD],
        losses=tuple((reasons[pk], money) for pk, money in sorted(losses.items()) if money),
        gains=-totals[Place.GAIN],
        received=-totals[Place.OUTSIDE],
    )
