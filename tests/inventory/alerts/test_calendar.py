"""The calendar that an address of one's own opens: read by another parser, held to RFC 5545, and secret."""

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
import vobject
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inventory.alerts.actions.calendar_feeds import renew_calendar, switch_calendar_off
from inventory.alerts.calendars import calendar_file, secret_of
from inventory.alerts.models import CalendarFeed
from inventory.ledger.models import Lot
from inventory.purchasing.models import Order
from studio.accounts.models import User
from tests.days import AT, DAY, TODAY
from tests.inventory.browsing import as_user, queries, text_of
from tests.making import (
    make_delivery,
    make_lot,
    make_material,
    make_order,
    make_plan,
    make_supplier,
    make_surface,
    money,
    planned_line,
    take_back,
    units,
)

pytestmark = pytest.mark.django_db
# A name of two bytes a letter, so that lines have to be folded by octets and not by letters.
LONG = "Prüßblau über Möwenweiß, für den großen Laternenabend am Hafen; erste Hälfte"


def address_of(feed: CalendarFeed) -> str:
    return reverse("inventory:calendar-feed", args=[feed.name, secret_of(feed)])


@pytest.fixture
def feed(owner: User) -> CalendarFeed:
    return renew_calendar(person=owner, at=AT)


def content(feed: CalendarFeed, on: date = TODAY) -> bytes:
    return calendar_file(feed, name="Wrackline Studio", on=on, stamp=datetime(2025, 6, 10, tzinfo=UTC))


def events(feed: CalendarFeed, on: date = TODAY) -> dict[str, Any]:
    """The events as vobject reads them, by title."""
    calendar = vobject.readOne(content(feed, on).decode())
    return {event.summary.value: event for event in getattr(calendar, "vevent_list", [])}


def full_studio() -> Lot:
    paint, board = make_material(name="Gull White"), make_surface()
    make_plan(planned_line(board, 1, paint), name=LONG, on=TODAY + 4 * DAY)
    make_order(
        (paint, units(500), money(7)),
        supplier=make_supplier(name="Limpet Colours"),
        expected_on=TODAY + 2 * DAY,
    )
    lot = make_lot(material=paint, quantity=units(100))
    Lot.objects.filter(pk=lot.pk).update(best_before=TODAY + 30 * DAY)
    return lot


def test_plans_deliveries_and_use_by_days_stand_on_their_days(feed: CalendarFeed) -> None:
    lot = full_studio()
    found = {title: event.dtstart.value for title, event in events(feed).items()}
    assert found == {
        f"Pour: {LONG}": TODAY + 4 * DAY,
        "Delivery due: Limpet Colours": TODAY + 2 * DAY,
        f"Use by: Gull White, {lot.label}": TODAY + 30 * DAY,
    }
    assert events(feed)["Delivery due: Limpet Colours"].description.value == "Gull White"


def test_each_event_is_a_whole_day_named_for_good(feed: CalendarFeed) -> None:
    # RFC 5545, 3.6.1: UID and DTSTAMP are required; a DATE in DTSTART makes it a day, whose DTEND is the day after.
    full_studio()
    for event in events(feed).values():
        assert event.dtend.value - event.dtstart.value == timedelta(days=1)
        assert not isinstance(event.dtstart.value, datetime)
        assert event.dtstamp.value == datetime(2025, 6, 10, tzinfo=UTC)
        assert event.uid.value.endswith(f"@{feed.name}.meniscus")
    assert len({event.uid.value for event in events(feed).values()}) == 3


def test_an_event_that_moves_keeps_its_uid_and_so_does_a_renewed_calendar(
    feed: CalendarFeed, owner: User
) -> None:
    full_studio()
    before = events(feed)["Delivery due: Limpet Colours"].uid.value
    Order.objects.update(expected_on=TODAY + 9 * DAY)
    renewed = renew_calendar(person=owner, at=AT + DAY)
    moved = events(renewed)["Delivery due: Limpet Colours"]
    assert (moved.uid.value, moved.dtstart.value) == (before, TODAY + 9 * DAY)


def test_the_file_keeps_the_rules_of_the_standard(feed: CalendarFeed) -> None:
    full_studio()
    raw = content(feed)
    lines = raw.split(b"\r\n")
    assert b"\n" not in raw.replace(b"\r\n", b"")  # RFC 5545, 3.1: lines end in CRLF
    assert max(map(len, lines)) <= 75  # and hold at most 75 octets; longer ones are folded
    assert any(line.startswith(b" ") for line in lines)
    assert lines[0] == b"BEGIN:VCALENDAR"
    assert b"VERSION:2.0" in lines  # 3.7.4
    assert sum(line.startswith(b"PRODID:") for line in lines) == 1  # 3.7.3
    assert b"DTSTART;VALUE=DATE:20250614" in lines  # 3.3.4
    assert b"METHOD" not in raw  # 3.7.2: published by an address, nobody is invited
    unfolded = raw.replace(b"\r\n ", b"").decode()
    assert LONG.replace(",", "\\,").replace(";", "\\;") in unfolded  # 3.3.11: TEXT is escaped


def test_there_is_no_money_in_it(feed: CalendarFeed) -> None:
    full_studio()
    raw = content(feed).decode()
    assert "£" not in raw
    assert "7.00" not in raw


def test_what_is_done_is_in_it_no_more(feed: CalendarFeed) -> None:
    order = make_order((make_material(), units(500)), expected_on=TODAY)
    line = order.lines.get()
    assert len(events(feed)) == 1
    delivery = make_delivery(
        lines=[(line.material, units(500), money(5))], supplier=order.supplier, order=order
    )
    assert events(feed) == {}
    take_back(delivery.posting)
    assert len(events(feed)) == 1
    assert events(feed, on=TODAY + 40 * DAY) == {}  # too long ago


# The address


def test_the_address_opens_the_calendar_without_a_login_and_says_what_it_is(
    feed: CalendarFeed, client: Client
) -> None:
    answer = client.get(address_of(feed))
    assert answer.status_code == 200
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    assert answer["Cache-Control"] == "private, max-age=21600"
    assert vobject.readOne(answer.content.decode()).version.value == "2.0"
    again = client.get(address_of(feed), headers={"If-None-Match": answer["ETag"]})
    assert (again.status_code, again.content) == (304, b"")
    assert "sessionid" not in str(client.cookies)


@pytest.mark.parametrize("method", ["post", "put", "patch", "delete"])
def test_it_is_only_read(feed: CalendarFeed, client: Client, method: str) -> None:
    assert getattr(client, method)(address_of(feed)).status_code == 405


def test_any_other_address_is_not_found(feed: CalendarFeed, client: Client, owner: User) -> None:
    right = secret_of(feed)
    wrong = right[:-1] + ("0" if right[-1] != "0" else "1")
    for name, secret in ((feed.name, wrong), ("nobody", right), (feed.name, "0")):
        address = reverse("inventory:calendar-feed", args=[name, secret])
        assert client.get(address).status_code == 404
        assert as_user(owner).get(address).status_code == 404


def test_a_renewed_address_ends_the_one_before(feed: CalendarFeed, owner: User, client: Client) -> None:
    before = address_of(feed)
    response = as_user(owner).post(reverse("inventory:calendar-renew"), follow=True)
    after = address_of(CalendarFeed.objects.get())
    assert after in response.content.decode()
    assert client.get(before).status_code == 404
    assert client.get(after).status_code == 200


def test_it_is_switched_off_and_on_again(feed: CalendarFeed, owner: User, client: Client) -> None:
    as_user(owner).post(reverse("inventory:calendar-off"))
    assert client.get(address_of(feed)).status_code == 404
    assert "Create my calendar address" in text_of(as_user(owner).get(reverse("inventory:calendar")))
    on_again = renew_calendar(person=owner, at=AT)
    assert client.get(address_of(feed)).status_code == 404  # the old one stays off
    assert client.get(address_of(on_again)).status_code == 200


def test_it_ends_with_the_person(feed: CalendarFeed, owner: User, client: Client) -> None:
    User.objects.filter(pk=owner.pk).update(is_active=False)
    assert client.get(address_of(feed)).status_code == 404


def test_the_database_alone_does_not_give_the_address_away(feed: CalendarFeed, settings: Any) -> None:
    before = secret_of(feed)
    assert before not in str(CalendarFeed.objects.values().get())
    settings.SECRET_KEY = "another-key-for-another-server"
    assert secret_of(feed) != before


def test_each_person_has_one_of_their_own_in_their_language(
    owner: User, helper: User, client: Client
) -> None:
    User.objects.filter(pk=helper.pk).update(language="de")
    one, two = renew_calendar(person=owner, at=AT), renew_calendar(person=helper, at=AT)
    assert address_of(one) != address_of(two)
    switch_calendar_off(person=owner)
    answer = client.get(address_of(two))
    assert b"PRODID:-//Meniscus//Calendar//DE" in answer.content


def test_it_asks_as_many_queries_for_few_as_for_many(feed: CalendarFeed) -> None:
    client = Client()

    def some() -> None:
        today = timezone.localdate()
        paint, board = make_material(), make_surface()
        make_plan(planned_line(board, 1, paint), on=today)
        make_order((paint, units(5)), expected_on=today)
        lot = make_lot(material=paint)
        Lot.objects.filter(pk=lot.pk).update(best_before=today)

    some()
    few = queries(client, address_of(feed))
    for _ in range(5):
        some()
    assert queries(client, address_of(feed)) == few
