"""How long stock lasts, and by when to order: of what has a rate of use, and as a guess of what is still new.

A level says more, but only after some weeks; who has poured once asks already.
"""

from collections.abc import Collection, Iterable, Mapping
from datetime import date, timedelta

from django.db.models import Sum

from inventory.ledger.models import Entry
from inventory.reordering.calculations import stock_cover
from inventory.reordering.calculations.levels import LEAST_DAYS
from inventory.reordering.queries import Level
from inventory.stock.availability import Cover
from inventory.stock.queries import HeldLot, usable_until

# A first session is no day's usual use: what was used so far counts as that of a week at least (own choice).
FEWEST_DAYS = 7


def covers(found: Collection[Level], on: date, lots: Iterable[HeldLot] | None = None) -> dict[int, Cover]:
    """How long each material lasts from the morning of a day, by material; what has no use to tell from is left out.

    Two queries at most, however many there are. Who has today's lots already hands them in.
    """
    new = {level.material.pk: level for level in found if level.use is None and level.past.is_recent}
    guessed = _guessed_a_day({pk: level.past.days for pk, level in new.items()}, on)
    known = {level.material.pk: level.use.per_day for level in found if level.use is not None}
    a_day = {pk: rate for pk, rate in {**guessed, **known}.items() if rate}
    going_off = usable_until(on, a_day, lots)
    return {
        pk: cover
        for level in found
        if (pk := level.material.pk) in a_day
        and (cover := _cover(level, a_day[pk], on, going_off[pk], is_guess=pk in guessed)) is not None
    }


def _cover(
    level: Level, a_day: float, on: date, going_off: Collection[tuple[date, int]], *, is_guess: bool
) -> Cover | None:
    """What goes off before it is used at that rate does not last; with nothing on order, what follows must be here."""
    lasts_until = stock_cover.next_run_out(on, level.stock, a_day, going_off)
    order_by = stock_cover.order_by(on, level.position, level.level, a_day, lead_days=level.usual_lead_days)
    is_cut_short = lasts_until != stock_cover.next_run_out(on, level.stock, a_day)
    if lasts_until and is_cut_short and not level.on_order:
        in_time = max(on, lasts_until - timedelta(days=level.usual_lead_days))
        order_by = min(order_by or in_time, in_time)
    return Cover(lasts_until, order_by, is_guess) if lasts_until else None


def _guessed_a_day(days_of: Mapping[int, int], on: date) -> dict[int, float]:
    """What a day uses of materials that are too new for a rate, by the days that each has been here."""
    young = {pk: days for pk, days in days_of.items() if days < LEAST_DAYS}
    if not young:
        return {}
    uses = Entry.objects.uses().filter(
        material__in=young, effective_on__gte=on - timedelta(days=LEAST_DAYS), effective_on__lt=on
    )
    sums = uses.order_by().values_list("material").annotate(used=-Sum("quantity"))
    return {pk: used / max(young[pk], FEWEST_DAYS) for pk, used in sums if used > 0}
