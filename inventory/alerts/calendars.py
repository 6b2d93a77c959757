"""A person's calendar: what stands in it, as iCalendar (RFC 5545) that a phone or a desk calendar subscribes to.

Later floors register what they add. Nothing in it tells about money or buyers: the address alone opens it.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.utils.crypto import salted_hmac

from inventory.alerts.models import CalendarFeed
from inventory.ledger.models import Lot
from inventory.plans.models import Plan
from inventory.purchasing.incoming import progress_of
from inventory.purchasing.models import Order
from inventory.stock.queries import held_lots
from studio.translation import _, language

# How far back a calendar reaches, and ahead: our own choice.
DAYS_BACK, DAYS_AHEAD = 31, 366
FETCH_EVERY = timedelta(hours=6)
SALT = "meniscus.calendar"


@dataclass(frozen=True, slots=True)
class DayEvent:
    """Something on one day. `key` names it for good, whatever becomes of its title and its day."""

    key: str
    day: date
    title: str
    note: str = ""


Source = Callable[[date, date], Iterable[DayEvent]]
_sources: list[Source] = []


def register(source: Source) -> None:
    """Show what a function finds from one day to another."""
    if source not in _sources:
        _sources.append(source)


def events(on: date) -> list[DayEvent]:
    """Everything in the calendar on a day, in the order of its days."""
    first, last = on - timedelta(days=DAYS_BACK), on + timedelta(days=DAYS_AHEAD)
    found = [event for source in _sources for event in source(first, last)]
    return sorted(
        (each for each in found if first <= each.day <= last), key=lambda each: (each.day, each.key)
    )


def secret_of(feed: CalendarFeed) -> str:
    """The secret part of a feed's address: another one with every new seed."""
    return salted_hmac(SALT, f"{feed.name}:{feed.seed}", algorithm="sha256").hexdigest()


def calendar_file(feed: CalendarFeed, *, name: str, on: date, stamp: datetime) -> bytes:
    """The whole calendar as a file.

    RFC 5545: VERSION and PRODID (3.7), UID and DTSTAMP in every event (3.6.1), whole days as DATE values whose end is
    the day after (3.6.1), lines of at most 75 octets ended by CRLF (3.1). RFC 7986: NAME, REFRESH-INTERVAL.
    `stamp` is when it was made.
    """
    from icalendar import Calendar, Event  # every start of the program would wait for it

    calendar = Calendar()
    calendar.add("prodid", f"-//Meniscus//Calendar//{language().upper()}")
    calendar.add("version", "2.0")
    calendar.add("name", name)
    calendar.add("x-wr-calname", name)  # what readers from before RFC 7986 know
    calendar.add("refresh-interval", FETCH_EVERY, parameters={"VALUE": "DURATION"})
    for each in events(on):
        event = Event()
        event.add("uid", f"{each.key}@{feed.name}.meniscus")
        event.add("dtstamp", stamp)
        event.add("dtstart", each.day)
        event.add("dtend", each.day + timedelta(days=1))
        event.add("summary", each.title)
        if each.note:
            event.add("description", each.note)
        event.add("transp", "TRANSPARENT")  # it takes no time of the day
        calendar.add_component(event)
    return bytes(calendar.to_ical())


def _plans(first: date, last: date) -> Iterator[DayEvent]:
    for plan in Plan.objects.open().filter(planned_on__range=(first, last)):
        yield DayEvent(f"plan-{plan.pk}", plan.planned_on, _("Pour: {plan}", plan=plan.name))


def _deliveries(first: date, last: date) -> Iterator[DayEvent]:
    orders = Order.objects.filter(is_closed=False, expected_on__range=(first, last)).select_related(
        "supplier"
    )
    for state in progress_of(orders):
        if state.is_waiting and state.order.expected_on is not None:
            names = ", ".join(dict.fromkeys(line.line.material.name for line in state.lines if line.to_come))
            title = _("Delivery due: {supplier}", supplier=state.order.supplier.name)
            yield DayEvent(f"order-{state.order.pk}", state.order.expected_on, title, names)


def _use_by_days(first: date, last: date) -> Iterator[DayEvent]:
    due = {
        held.lot: use_by
        for held in held_lots()
        if (use_by := held.use_by) is not None and first <= use_by <= last
    }
    for lot in Lot.objects.select_related("material").filter(pk__in=due):
        title = _("Use by: {material}, {lot}", material=lot.material.name, lot=lot.label)
        yield DayEvent(f"lot-{lot.pk}", due[lot.pk], title)


for _source in (_plans, _deliveries, _use_by_days):
    register(_source)
