"""Orders that are late, and prices that have jumped."""

from collections import defaultdict
from collections.abc import Iterator
from datetime import date, timedelta

from django.utils.translation import gettext_lazy

from inventory.alerts.calculations import Paid, price_jump
from inventory.alerts.kinds import Cause, Figures, Kind, Look, Rule, day_of, page
from inventory.materials.models import Material
from inventory.purchasing.incoming import progress_of
from inventory.purchasing.models import DeliveryLine, Order
from studio.preferences.formatting import Formatter
from studio.translation import _, ngettext

# A price paid longer ago is no news any more, and one from years ago says nothing about what is usual.
NEWS_DAYS = 90
USUAL_DAYS = 3 * 365


def _late_in_words(figures: Figures, formatter: Formatter) -> str:
    days = figures["days"]
    return ngettext(
        "Ordered {ordered}, expected {expected}: {n} day late.",
        "Ordered {ordered}, expected {expected}: {n} days late.",
        days,
        n=days,
        ordered=formatter.day(day_of(figures["ordered"])),
        expected=formatter.day(day_of(figures["expected"])),
    )


def _jump_in_words(figures: Figures, formatter: Formatter) -> str:
    return _(
        "Paid {latest} on {day}, usually {usual}: {rise} more.",
        latest=formatter.unit_cost(figures["latest"], 1000, figures["measure"]),
        usual=formatter.unit_cost(figures["usual"], 1000, figures["measure"]),
        day=formatter.day(day_of(figures["day"])),
        rise=formatter.percent(figures["rise"]),
    )


ORDER_LATE = Kind(
    "order_late",
    gettext_lazy("Order late"),
    gettext_lazy("An open order has not fully arrived though its expected day has passed."),
    _late_in_words,
    page("inventory:order"),
    urgency=25,
)
PRICE_JUMP = Kind(
    "price_jump",
    gettext_lazy("Price jump"),
    gettext_lazy(
        "The last delivery cost more per unit, carriage included, than the middle one of up to five before it, by "
        "more than the settings allow. It needs two earlier deliveries, and is told for 90 days."
    ),
    _jump_in_words,
    page("inventory:material"),
    urgency=80,
    badge="note",
    needs_money=True,
)


def late_orders(look: Look) -> Iterator[Cause]:
    """Open orders still to come though their day has passed."""
    orders = Order.objects.filter(is_closed=False, expected_on__lt=look.on).select_related("supplier")
    for state in progress_of(orders):
        order = state.order
        if state.is_late(look.on) and order.expected_on is not None:
            yield Cause(
                ORDER_LATE.code,
                str(order.pk),
                order.expected_on + timedelta(days=1),
                {
                    "name": order.supplier.name,
                    "ordered": order.ordered_on.isoformat(),
                    "expected": order.expected_on.isoformat(),
                    "days": (look.on - order.expected_on).days,
                },
            )


def price_jumps(look: Look) -> Iterator[Cause]:
    """Materials whose last delivery cost more than the setting allows above the usual."""
    paid: dict[int, list[tuple[date, Paid]]] = defaultdict(list)
    lines = DeliveryLine.objects.filter(
        delivery__posting__reversed_by__isnull=True,
        delivery__received_on__gt=look.on - timedelta(days=USUAL_DAYS),
        delivery__received_on__lte=look.on,
    )
    if look.materials is not None:
        lines = lines.filter(lot__material__in=look.materials)
    for material, day, money, quantity in lines.order_by("delivery__received_on", "pk").values_list(
        "lot__material_id", "delivery__received_on", "landed", "quantity"
    ):
        paid[material].append((day, Paid(money, quantity)))
    recent = {pk: prices for pk, prices in paid.items() if (look.on - prices[-1][0]).days <= NEWS_DAYS}
    names = Material.objects.in_bulk(recent) if recent else {}
    for pk, prices in recent.items():
        jump = price_jump([each for _day, each in prices], threshold=look.studio.price_jump)
        if jump is not None:
            figures = {
                "name": names[pk].name,
                "measure": names[pk].measure,
                "day": prices[-1][0].isoformat(),
                "latest": jump.latest,
                "usual": jump.usual,
                "rise": jump.rise,
            }
            yield Cause(PRICE_JUMP.code, str(pk), prices[-1][0], figures, material=pk)


RULES = (Rule((ORDER_LATE,), late_orders, rechecked=True), Rule((PRICE_JUMP,), price_jumps, rechecked=True))
