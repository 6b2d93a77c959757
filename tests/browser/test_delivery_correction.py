"""A wrong pack size put right on a delivery that was partly poured and sold: on a phone, at a desk, without scripting.

The figures, by hand: 20.00 for what was logged as 100 mL and was a litre; 30 mL of it were poured on each of two boards
that cost nothing. At 0.20 a millilitre that is 6.00 a board with 8.00 left; at 0.02 it is 0.60 a board with 18.80 left.
"""

import re
import time
from collections.abc import Callable

import pytest
from playwright.sync_api import BrowserContext

from inventory.ledger.verification import check
from studio.accounts.actions import add_person
from studio.accounts.models import Role, User
from tests.browser.chromium import DESK, DESK_WITHOUT_SCRIPT, PHONE, Screen
from tests.browser.steps import Visitor
from tests.browser.watching import Watch
from tests.days import june
from tests.making import (
    make_delivery,
    make_material,
    make_opening,
    make_session,
    make_surface,
    money,
    pour_of,
    sell,
    units,
)

pytestmark = pytest.mark.browser

NAME, PHRASE = "wren", "eleven-canvases-by-noon"
PAINT = "Sail Loft White"
A_MINUTE = 60


@pytest.mark.parametrize("screen", [PHONE, DESK, DESK_WITHOUT_SCRIPT], ids=str)
def test_a_wrong_pack_size_is_put_right_in_under_a_minute(
    screen: Screen, visit: Callable[[Screen], BrowserContext], server: str
) -> None:
    she_is = add_person(User(username=NAME, role=Role.OWNER), password=PHRASE, submission=None)
    paint, board = make_material(name=PAINT), make_surface(name="Board 20")
    make_opening(lines=[(board, units(2), 0)], on=june(1))
    delivery = make_delivery(lines=[(paint, units(100), money(20))], on=june(2), by=she_is)
    pours = [pour_of(material=paint, quantity=units(30), surface=board) for _board in range(2)]
    unsold, sold = make_session(pours=pours, on=june(4), by=she_is).pours.order_by("number")
    sell(pours=[sold], on=june(5))
    context = visit(screen)
    watch = Watch(context, server)
    she = Visitor(context.new_page(), screen)
    she.sign_in(NAME, PHRASE)
    she.open(f"/deliveries/{delivery.pk}/")

    began = time.monotonic()
    she.follow("Correct this delivery")
    she.write({"Pack size": "1 l", "Reason": "A litre, not a tenth of one"})
    she.press("Show what changes")
    she.sees("Before")
    for row in (
        r"Sail Loft White, L\d+ .*40 mL → 940 mL .*£8\.00 .*£18\.80",
        rf"{unsold.label} .*£6\.00 .*£0\.60",
        rf"{sold.label} \(sold\) .*£6\.00 .*£0\.60",
    ):
        assert re.search(row, she.reads()), she.reads()
    she.page.get_by_role("button", name="Save the correction").first.click()
    she.sees("A litre, not a tenth of one")
    assert time.monotonic() - began < A_MINUTE

    she.sees(re.compile(r"Received from 100\smL to 1,000\smL"))
    she.open(f"/pours/{unsold.pk}/")
    she.sees("£0.60")
    assert watch.told() == []
    report = check()
    assert report.is_clean, report.breaks
