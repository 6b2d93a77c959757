"""Lots' balances on past days, and the month-ends that are kept so that any day is at most a month's entries away.

Nothing here is part of the books: month-ends are worked out from the ledger, can be thrown away and worked out
again, and are held against the ledger whenever the books are checked. A reader who finds none counts back from today.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from datetime import date, timedelta
from itertools import groupby
from operator import itemgetter
from typing import NamedTuple

from django.db import transaction
from django.db.models import Min, QuerySet, Sum

from inventory.ledger.models import Entry, LotBalance, MonthEnd, Place, Posting

ROWS_AT_A_TIME = 5_000
Moved = dict[int, tuple[int, int]]


class DayOfLot(NamedTuple):
    """What moved in and out of one lot on one day."""

    day: date
    lot: int
    quantity: int
    money: int


def balances_on(day: date) -> Moved:
    """Quantity and money of every lot that held anything at the end of a day, by the postings' own dates."""
    kept = MonthEnd.objects.filter(day__lte=day).order_by("-day").values_list("day", "through").first()
    if kept is None:
        return _counted_back_to(day)
    month_end, through = kept
    # One by one: asked for sums by lot, SQLite would walk the whole ledger in order of lots.
    entries = Entry.objects.order_by().filter(place=Place.LOT, effective_on__lte=day)
    since = entries.filter(effective_on__gt=month_end, posting__lte=through)
    late = entries.filter(posting__gt=through)
    parts = (
        MonthEnd.objects.order_by().filter(day=month_end).values_list("lot_id", "quantity", "money"),
        since.values_list("lot_id", "quantity", "money"),
        late.values_list("lot_id", "quantity", "money"),
    )
    return _added_up(row for part in parts for row in part)


def _counted_back_to(day: date) -> Moved:
    """Today's balances less what has moved since."""
    since = _by_lot(Entry.objects.filter(place=Place.LOT, effective_on__gt=day))
    now = LotBalance.objects.values_list("lot_id", "quantity", "money")
    return _added_up([*now, *((lot, -quantity, -money) for lot, quantity, money in since)])


def _by_lot(entries: QuerySet[Entry]) -> Iterable[tuple[int, int, int]]:
    return entries.order_by().values_list("lot_id").annotate(Sum("quantity"), Sum("money"))


def _added_up(rows: Iterable[tuple[int, int, int]]) -> Moved:
    sums: Moved = defaultdict(lambda: (0, 0))
    for lot, quantity, money in rows:
        held = sums[lot]
        sums[lot] = (held[0] + quantity, held[1] + money)
    return {lot: held for lot, held in sums.items() if held != (0, 0)}


def keep_month_ends(*, before: date) -> int:
    """Bring the month-ends up to the last one before a day, and return how many rows were written.

    Only the months that something was posted into since the last time are worked out anew.
    """
    with transaction.atomic():
        head = Posting.objects.order_by("-number").values_list("number", flat=True).first() or 0
        through = MonthEnd.objects.order_by("-day").values_list("through", flat=True).first() or 0
        new = Entry.objects.filter(posting__gt=through, posting__lte=head)
        earliest: date | None = new.aggregate(day=Min("effective_on"))["day"]
        if earliest is None:
            return 0
        MonthEnd.objects.filter(day__gte=earliest).delete()
        rows = [
            MonthEnd(day=day, lot_id=lot, quantity=quantity, money=money, through=head)
            for day, lot, quantity, money in _month_ends(head, before)
        ]
        MonthEnd.objects.bulk_create(rows, batch_size=ROWS_AT_A_TIME)
        MonthEnd.objects.exclude(through=head).update(through=head)
    return len(rows)


def _month_ends(head: int, before: date) -> Iterator[DayOfLot]:
    """Every month-end that is missing, from the last one that stands."""
    last = MonthEnd.objects.order_by("-day").values_list("day", flat=True).first() or date.min
    standing = MonthEnd.objects.filter(day=last).values_list("lot_id", "quantity", "money")
    entries = Entry.objects.filter(
        place=Place.LOT, posting__lte=head, effective_on__gt=last, effective_on__lt=before
    )
    days = (
        entries.order_by("effective_on")
        .values_list("effective_on", "lot_id")
        .annotate(Sum("quantity"), Sum("money"))
    )
    yield from month_ends(
        map(DayOfLot._make, days.iterator(ROWS_AT_A_TIME)), before=before, standing=standing
    )


def month_ends(
    days: Iterable[DayOfLot], *, before: date, standing: Iterable[tuple[int, int, int]] = ()
) -> Iterator[DayOfLot]:
    """What each lot held at the end of every month before a day, from what moved on each day, in order of days.

    A month in which nothing moved has no end of its own: the one before it says the same.
    """
    held = _added_up(standing)
    for month, moved in groupby(days, key=lambda moved: month_end(moved.day)):
        if month >= before:
            return
        held = _added_up([*((lot, *sums) for lot, sums in held.items()), *map(itemgetter(1, 2, 3), moved)])
        yield from (DayOfLot(month, lot, *sums) for lot, sums in sorted(held.items()))


def month_end(day: date) -> date:
    """The last day of the month that a day lies in."""
    return (day.replace(day=28) + timedelta(days=4)).replace(day=1) - timedelta(days=1)
