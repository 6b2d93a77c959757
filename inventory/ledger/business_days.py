"""No lot is below zero, and none holds cost without quantity, at the end of any business day."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date

from inventory.errors import BelowZeroOnDay, day_in_words
from inventory.ledger.balances import moved_after
from inventory.ledger.costing_methods import is_possible
from inventory.ledger.models import Lot, LotBalance
from inventory.ledger.movements import Movement
from studio.translation import _
from studio.values.quantities import format_quantity
from studio.values.units import Measure

Changes = dict[date, tuple[int, int]]


def refuse_below_zero(movements: Sequence[Movement]) -> None:
    """Raise BelowZeroOnDay when these movements, once posted, leave a lot below zero on a day that has been.

    Two queries, however many movements there are.
    """
    changes = _by_lot(movements)
    if not changes:
        return
    first = min(each.effective_on for each in movements)
    later = moved_after(first, changes)
    now = {
        lot: (quantity, money)
        for lot, quantity, money in LotBalance.objects.filter(lot__in=changes).values_list(
            "lot_id", "quantity", "money"
        )
    }
    for lot, own in changes.items():
        for day, quantity, money in ends_of_days(now.get(lot, (0, 0)), own, later.get(lot, ()), first):
            if not is_possible(quantity, money):
                raise BelowZeroOnDay(_reason(lot, day, quantity))


def _by_lot(movements: Iterable[Movement]) -> dict[int, Changes]:
    changes: dict[int, Changes] = defaultdict(dict)
    for each in movements:
        for account, sign in ((each.source, -1), (each.destination, 1)):
            if account.lot is not None:
                quantity, money = changes[account.lot].get(each.effective_on, (0, 0))
                changes[account.lot][each.effective_on] = (
                    quantity + sign * each.quantity,
                    money + sign * each.money,
                )
    return changes


def ends_of_days(
    now: tuple[int, int], own: Changes, later: Iterable[tuple[date, int, int]], first: date
) -> list[tuple[date, int, int]]:
    """What a lot would hold at the end of the first day and of each later one on which it moves, the latest first.

    `now` is what it holds before its `own` changes; `later` is what has moved after the first day.
    """
    moved: dict[date, list[int]] = {first: [0, 0]}
    for day, quantity, money in [*later, *((day, *change) for day, change in own.items())]:
        total = moved.setdefault(day, [0, 0])
        total[0] += quantity
        total[1] += money
    quantity = now[0] + sum(change[0] for change in own.values())
    money = now[1] + sum(change[1] for change in own.values())
    ends = []
    for day in sorted(moved, reverse=True):
        ends.append((day, quantity, money))
        quantity, money = quantity - moved[day][0], money - moved[day][1]
    return ends


def _reason(pk: int, day: date, quantity: int) -> str:
    lot = Lot.objects.select_related("material").get(pk=pk)
    names = {"day": day_in_words(day), "lot": lot.label, "material": lot.material.name}
    if quantity < 0:
        short = format_quantity(-quantity, Measure(lot.material.measure))
        return _(
            "At the end of {day}, lot {lot} of {material} would be {short} below zero. Check the day and "
            "the amount.",
            **names,
            short=short,
        )
    return _(
        "At the end of {day}, lot {lot} of {material} would have a cost below zero, or a cost without stock. "
        "Check the day and the amounts.",
        **names,
    )
