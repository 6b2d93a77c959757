"""From a session to a full shelf: an alert, the shopping list, an order, a delivery in two parts, and no alert."""

import re
from collections.abc import Callable
from datetime import timedelta

import icalendar
import pytest
from django.core import mail
from django.core.management import call_command
from django.utils import timezone
from playwright.sync_api import BrowserContext, expect

from inventory.alerts.models import Alert
from inventory.materials.models import Material
from inventory.purchasing.models import Order
from studio.accounts.actions import add_person
from studio.accounts.models import Role, User
from tests import making
from tests.browser.chromium import DESK, PHONE, Screen
from tests.browser.steps import Visitor
from tests.inventory.shopping.stories import sells
from tests.making import money, units

pytestmark = pytest.mark.browser

NAME, PHRASE, ADDRESS = "wren", "eleven-canvases-by-noon", "wren@wrackline.example"


@pytest.fixture
def white(transactional_db: None) -> Material:
    """800 mL of a white that is reordered at 500; one shop sells it in tubs of 500."""
    add_person(User(username=NAME, role=Role.OWNER, email=ADDRESS), password=PHRASE, submission=None)
    shop = making.make_supplier(name="Limpet Quay Colours", lead_time_days=6)
    paint = making.make_material(name="Chalk White", reorder_level=units(500))
    sells(shop, paint, 500, 9)
    yesterday = timezone.localdate() - timedelta(days=1)
    board = making.make_surface(name="Board")
    lines = [(paint, units(800), money(12)), (board, units(2), money(2))]
    making.make_delivery(lines=lines, on=yesterday, at=timezone.now(), supplier=shop)
    return paint


def pour_some(she: Visitor) -> None:
    """A session of today takes 500 mL, straight from the bottle."""
    she.open("/sessions/new/")
    she.choose("Contents", "Chalk White", she.row("Cup 1"))
    she.write({"Amount in the cup": "500 ml"}, she.row("Cup 1"))
    pours = she.row("Pours 1")
    she.choose("Surface", "Board", pours)
    she.write({"How many": "1", "Technique": "Ring pour", "Poured per surface": "500 ml"}, pours)
    she.press("Save session")
    expect(she.page).to_have_url(re.compile(r"/sessions/\d+/"))


def calendar_days(she: Visitor) -> dict[str, str]:
    """What one's calendar says, day by its summary."""
    she.open("/calendar/")
    she.press("Create my calendar address")
    address = she.page.get_by_label("Address").input_value()
    feed = icalendar.Calendar.from_ical(she.page.request.get(address).body())
    return {str(event["SUMMARY"]): str(event.decoded("DTSTART")) for event in feed.walk("VEVENT")}


def receive(she: Visitor, order: Order, packs: int) -> None:
    she.open(f"/orders/{order.pk}/")
    she.follow("Receive this order")
    she.write({"Packs": str(packs), "Line price": f"{9 * packs}.00"}, she.row("Line 1"))
    she.press("Save delivery")
    she.sees("Delivery")


@pytest.mark.parametrize("screen", [PHONE, DESK], ids=["phone", "desk"])
def test_a_session_makes_an_alert_that_clears_when_the_order_has_come_in_two_parts(
    visit: Callable[[Screen], BrowserContext], white: Material, screen: Screen
) -> None:
    she = Visitor(visit(screen).new_page(), screen)
    she.sign_in(NAME, PHRASE)
    pour_some(she)

    for _time in range(2):
        call_command("send_alerts", verbosity=0)
    assert [message.to for message in mail.outbox] == [[ADDRESS]]
    assert "Chalk White" in mail.outbox[0].body

    she.open("/alerts/")
    she.sees("Chalk White")
    she.follow("Order what is low")
    she.sees("2 × 500 mL")
    she.press("Order from Limpet Quay Colours")
    she.sees("1 order saved")
    order = Order.objects.get()
    due = order.expected_on
    assert due is not None
    assert calendar_days(she)["Delivery due: Limpet Quay Colours"] == str(due)

    receive(she, order, 1)
    she.open(f"/orders/{order.pk}/")
    she.sees("Received in part")
    receive(she, order, 1)
    she.open(f"/orders/{order.pk}/")
    expect(she.page.get_by_role("main")).to_contain_text("Received")
    order.refresh_from_db()
    assert order.is_closed

    she.open("/alerts/")
    she.sees("Nothing needs attention")
    assert not Alert.objects.standing().filter(material=white).exists()
