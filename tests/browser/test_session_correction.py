"""The wrong paint is noticed after a piece was sold: put right on the session's page, with figures before and after."""

import time
from collections.abc import Callable

import pytest
from playwright.sync_api import BrowserContext, expect

from inventory.ledger.models import Entry, Place
from tests import making
from tests.browser.chromium import DESK, DESK_WITHOUT_SCRIPT, PHONE, Screen
from tests.browser.steps import Visitor
from tests.small_studio import small_studio

pytestmark = pytest.mark.browser

NAME, PHRASE = "wren", "eleven-canvases-by-noon"
A_MINUTE = 60


@pytest.mark.parametrize("screen", [PHONE, DESK, DESK_WITHOUT_SCRIPT], ids=str)
def test_the_wrong_paint_of_a_session_whose_piece_was_sold_is_put_right_within_a_minute(
    screen: Screen, visit: Callable[[Screen], BrowserContext], server: str
) -> None:
    built = small_studio()
    grey = making.make_material(name="Skerry Grey")
    making.make_delivery(lines=[(grey, making.units(1_000), making.money("90.00"))], on=built.session.held_on)
    sold = built.sold.parts.get().pour
    before = cost_of_sales(sold.pk)
    owner = making.make_owner()
    owner.set_password(PHRASE)
    owner.save()
    she = Visitor(visit(screen).new_page(), screen)
    she.sign_in(owner.username, PHRASE)
    began = time.monotonic()
    she.open(f"/sessions/{built.session.pk}/")
    she.follow("Correct this session")
    mix = built.session.mixes.get()
    cup = she.row(f"{mix.version.recipe}, {mix.lot.label}")
    she.touch(cup.locator("summary"))
    cup.get_by_label("Ingredient").first.select_option(label="Skerry Grey")
    she.write({"Reason": "The grey bottle, not the white one"})
    she.press("Show what changes")
    she.sees("What changes")
    table = she.page.get_by_role("table").first
    expect(table).to_contain_text("Skerry Grey")
    expect(table).to_contain_text("Cost of sales")
    assert cost_of_sales(sold.pk) == before, "nothing is posted before it was shown"
    she.touch(she.page.get_by_role("button", name="Save the correction").first)
    she.sees("Session corrected.")
    she.sees("The grey bottle, not the white one")
    assert time.monotonic() - began < A_MINUTE
    assert cost_of_sales(sold.pk) > before


def cost_of_sales(pour: int) -> int:
    return sum(Entry.objects.filter(place=Place.SOLD, pour=pour).values_list("money", flat=True))
