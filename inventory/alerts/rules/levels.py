"""What is to be ordered, what has run out, and what a plan lacks on its day."""

from collections.abc import Iterator
from datetime import timedelta

from django.utils.translation import gettext_lazy

from inventory.alerts.kinds import Cause, Figures, Kind, Look, Rule, day_of, page
from inventory.ledger.models import Entry, Lot, Place
from inventory.materials.models import Material
from inventory.plans.queries import Promises
from inventory.reordering.queries import Level, levels
from studio.preferences.formatting import Formatter
from studio.translation import _


def _stock_in_words(figures: Figures, formatter: Formatter) -> str:
    """What is left, coming and reserved, beside the level."""
    measure = figures["measure"]
    amounts = {
        name: formatter.short_quantity(figures[name], measure)
        for name in ("stock", "on_order", "due", "level")
    }
    if figures["on_order"] and figures["due"]:
        return _(
            "{stock} left, {on_order} on order, {due} reserved by plans; reorder level {level}.", **amounts
        )
    if figures["on_order"]:
        return _("{stock} left, {on_order} on order; reorder level {level}.", **amounts)
    if figures["due"]:
        return _("{stock} left, {due} of it reserved by plans; reorder level {level}.", **amounts)
    return _("{stock} left; reorder level {level}.", **amounts)


def _shortage_in_words(figures: Figures, formatter: Formatter) -> str:
    return _(
        "{plan} on {day} needs {missing} more than will be there.",
        plan=figures["plan"],
        day=formatter.day(day_of(figures["day"])),
        missing=formatter.short_quantity(figures["missing"], figures["measure"]),
    )


OUT = Kind(
    "out",
    gettext_lazy("Out of stock"),
    gettext_lazy("Nothing usable is left of a material that has a reorder level."),
    _stock_in_words,
    page("inventory:material"),
    urgency=10,
    badge="stop",
)
TO_REORDER = Kind(
    "to_reorder",
    gettext_lazy("To reorder"),
    gettext_lazy(
        "Stock and what is on order, less what plans reserve before a delivery could arrive, have fallen to the "
        "reorder level."
    ),
    _stock_in_words,
    page("inventory:material"),
    urgency=30,
)
USED_UP = Kind(
    "used_up",
    gettext_lazy("Used up"),
    gettext_lazy(
        "Nothing is left of a material that was in stock within the last year and has no reorder level."
    ),
    lambda _figures, _formatter: _("Nothing is left. It has no reorder level yet."),
    page("inventory:material"),
    urgency=35,
)
SHORT_FOR_PLAN = Kind(
    "short_for_plan",
    gettext_lazy("Short for a plan"),
    gettext_lazy("A plan needs more of a material than will be in stock on its day."),
    _shortage_in_words,
    page("inventory:plan"),
    urgency=20,
)
YEAR = timedelta(days=365)
STOCK_KINDS = (OUT.code, TO_REORDER.code)


def figures_of(level: Level) -> dict[str, int | str]:
    """A level's reason in figures, as an alert keeps it."""
    return {
        "name": level.material.name,
        "measure": level.material.measure,
        "stock": level.stock,
        "on_order": level.on_order,
        "due": level.due,
        "level": level.level or 0,
    }


def low_stock(look: Look) -> Iterator[Cause]:
    """What is out or at its level. Once ordered it only keeps its alert, as ordered, until the goods are here.

    It looks under the ledger's lock, so what past use came to may be kept.
    """
    found = levels(look.on, materials=look.materials, studio=look.studio, keep=True)
    yield from _used_up(look, [level for level in found if level.level is None and level.stock <= 0])
    for level in found:
        if level.level is None or level.stock - level.due > level.level:
            continue
        is_out = level.stock <= 0
        yield Cause(
            (OUT if is_out else TO_REORDER).code,
            str(level.material.pk),
            look.on,
            figures_of(level),
            material=level.material.pk,
            is_ordered=not level.is_low,
            raise_new=is_out or level.is_low,
        )


def _used_up(look: Look, gone: list[Level]) -> Iterator[Cause]:
    """What was there lately and is not now, not even past its date: in a young studio nothing else would tell of it."""
    materials = [level.material.pk for level in gone]
    lately = Entry.objects.filter(
        material__in=materials, place=Place.LOT, effective_on__gt=look.on - YEAR, effective_on__lte=look.on
    )
    held = Lot.objects.filter(material__in=materials, balance__quantity__gt=0).order_by()
    emptied = set(lately.order_by().values_list("material", flat=True).distinct()) if gone else set()
    emptied -= set(held.values_list("material", flat=True)) if emptied else set()
    for level in gone:
        if level.material.pk in emptied:
            yield Cause(
                USED_UP.code,
                str(level.material.pk),
                look.on,
                {"name": level.material.name},
                material=level.material.pk,
                is_ordered=level.on_order > 0,
                raise_new=not level.on_order,
            )


def short_for_plans(look: Look) -> Iterator[Cause]:
    """What open plans lack, each on its day, when those in front of it come first."""
    promises = Promises(look.on)
    short = promises.short()
    wanted = {pk for lacking in short.values() for pk in lacking if look.is_about(pk)}
    if not wanted:
        return
    materials = Material.objects.in_bulk(wanted)
    undated = {
        pk: sum(each.quantity for each in promises.arrivals if each.material == pk and not each.expected_on)
        for pk in wanted
    }
    plans = {each.plan.pk: each.plan for each in promises.reservations}
    for plan, lacking in short.items():
        for pk, missing in lacking.items():
            if pk not in materials:
                continue
            yield Cause(
                SHORT_FOR_PLAN.code,
                f"{plan}/{pk}",
                look.on,
                {
                    "name": materials[pk].name,
                    "measure": materials[pk].measure,
                    "plan": plans[plan].name,
                    "day": plans[plan].planned_on.isoformat(),
                    "missing": missing,
                },
                material=pk,
                is_ordered=undated[pk] >= missing,
            )


RULES = (
    Rule((OUT, TO_REORDER, USED_UP), low_stock, at_once=True),
    Rule((SHORT_FOR_PLAN,), short_for_plans, rechecked=True),
)
