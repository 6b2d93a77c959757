"""Lots near or past their day, mixes that go off, and bottles that have been open too long."""

from collections.abc import Iterator
from datetime import date, timedelta

from django.utils.translation import gettext_lazy

from inventory.alerts.kinds import Cause, Figures, Kind, Look, Rule, day_of, page
from inventory.ledger.models import Lot
from inventory.stock.queries import HeldLot, held_lots
from studio.preferences.formatting import Formatter
from studio.translation import _


def _amounts(figures: Figures, formatter: Formatter) -> dict[str, str]:
    return {
        "lot": figures["lot"],
        "left": formatter.short_quantity(figures["quantity"], figures["measure"]),
        "day": formatter.day(day_of(figures["day"])),
    }


def _near_in_words(figures: Figures, formatter: Formatter) -> str:
    return _("{lot}, {left} left, best before {day}.", **_amounts(figures, formatter))


def _past_in_words(figures: Figures, formatter: Formatter) -> str:
    return _("{lot}, {left} left, was best before {day}.", **_amounts(figures, formatter))


def _going_off_in_words(figures: Figures, formatter: Formatter) -> str:
    return _("{lot}, {left} mixed here, use by {day}.", **_amounts(figures, formatter))


def _opened_in_words(figures: Figures, formatter: Formatter) -> str:
    return _(
        "{lot}, {left} left, opened {opened}; it keeps {days} days once open, until {day}.",
        opened=formatter.day(day_of(figures["opened"])),
        days=figures["keeps"],
        **_amounts(figures, formatter),
    )


LOT_PAGE = page("inventory:lot")
PAST_DATE = Kind(
    "past_date",
    gettext_lazy("Past its date"),
    gettext_lazy("A lot in stock is past its best-before date."),
    _past_in_words,
    LOT_PAGE,
    urgency=40,
    badge="stop",
)
GOING_OFF = Kind(
    "going_off",
    gettext_lazy("Mix going off"),
    gettext_lazy(
        "Something mixed here is close to its use-by date or past it: as many days ahead as the settings say."
    ),
    _going_off_in_words,
    LOT_PAGE,
    urgency=50,
)
OPENED_LONG = Kind(
    "opened_long",
    gettext_lazy("Opened too long"),
    gettext_lazy("An opened lot is older than its material keeps once opened, as its own page says."),
    _opened_in_words,
    LOT_PAGE,
    urgency=60,
)
NEAR_DATE = Kind(
    "near_date",
    gettext_lazy("Near its date"),
    gettext_lazy("A lot in stock reaches its best-before date within the days that the settings say."),
    _near_in_words,
    LOT_PAGE,
    urgency=70,
    badge="wait",
)


def due_lots(look: Look) -> Iterator[Cause]:
    """Each lot in stock that is near or past its day: one alert of one kind, the most pressing."""
    until = look.on + timedelta(days=look.studio.near_date_days)
    due = [
        (held, *found)
        for held in held_lots(materials=look.materials)
        if (found := _kind_and_day(held, look.on, until)) is not None
    ]
    lots = Lot.objects.select_related("material").in_bulk([held.lot for held, *_rest in due])
    for held, kind, day in due:
        lot = lots[held.lot]
        figures: dict[str, int | str | None] = {
            "name": lot.material.name,
            "measure": lot.material.measure,
            "lot": lot.label,
            "quantity": held.quantity,
            "day": day.isoformat(),
        }
        if kind is OPENED_LONG and held.opened_on is not None:
            figures |= {"opened": held.opened_on.isoformat(), "keeps": held.keeps_days}
        yield Cause(kind.code, str(lot.pk), look.on, figures, material=held.material)


def _kind_and_day(held: HeldLot, on: date, until: date) -> tuple[Kind, date] | None:
    """Which alert a lot earns on a day, and the day that it is about."""
    if held.recipe is not None:
        return (GOING_OFF, held.best_before) if held.best_before and held.best_before <= until else None
    if held.best_before and held.best_before < on:
        return PAST_DATE, held.best_before
    if held.opened_on and held.keeps_days:
        keeps_until = held.opened_on + timedelta(days=held.keeps_days)
        if keeps_until < on:
            return OPENED_LONG, keeps_until
    return (NEAR_DATE, held.best_before) if held.best_before and held.best_before <= until else None


RULES = (Rule((PAST_DATE, GOING_OFF, OPENED_LONG, NEAR_DATE), due_lots, rechecked=True),)
