"""A plan carried out at the bench on a phone, with the network gone for a while: one session, and nothing lost."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import BrowserContext, expect

from inventory.ledger.verification import check
from inventory.sessions.models import Session, Technique
from inventory.sessions.queries.session_costs import account_of
from studio.accounts.actions import add_person
from studio.accounts.models import Role, User
from studio.auditing.writing import set_all
from tests import making
from tests.browser.chromium import PHONE, Screen
from tests.browser.steps import Visitor
from tests.browser.watching import measure

pytestmark = pytest.mark.browser

NAME, PHRASE = "wren", "eleven-canvases-by-noon"
SMALLEST = 72  # CSS pixels, for gloves: own choice

# The page itself and every script of it: without one of them it would not work without a network.


@pytest.fixture
def plan() -> int:
    """Three boards of 90 mL, half in a mixed blue, half in a white from the bottle."""
    owner = add_person(User(username=NAME, role=Role.OWNER), password=PHRASE, submission=None)
    set_all(Technique.objects.all(), coverage=100)
    blue, medium = making.make_material(name="Harbour Blue"), making.make_material(name="Loft medium")
    white = making.make_material(name="Chalk White")
    board = making.make_surface(name="Board 30", sides_painted=False)
    each = [(item, making.units(1000), making.money(10)) for item in (blue, medium, white)]
    making.make_delivery(lines=[*each, (board, making.units(10), making.money(35))], by=owner)
    made = making.make_material(name="Tide Blue", kind="mix", has_density=False)
    making.make_recipe(parts=[(blue, 1), (medium, 2)], makes=made)
    day = timezone.localdate() + timedelta(days=3)
    return making.make_plan(making.planned_line(board, 3, made, white), on=day).pk


def go_to_the_first_pour(she: Visitor) -> None:
    """Step by step, none of them wider than the screen; the buttons there are large enough for gloves."""
    page = she.page
    while page.locator("li[aria-current=step]").get_attribute("data-kind") != "pour":
        assert measure(page)["wider"] <= 0
        she.touch(page.get_by_role("button", name="Next", exact=True))
    heights = page.locator(".bench .button:visible").evaluate_all(
        "buttons => buttons.map(button => button.getBoundingClientRect().height)"
    )
    assert min(heights) >= SMALLEST


def test_a_plan_is_poured_with_the_network_cut_for_a_while(
    visit: Callable[[Screen], BrowserContext], plan: int
) -> None:
    context = visit(PHONE)
    she = Visitor(context.new_page(), PHONE)
    she.sign_in(NAME, PHRASE)
    she.open(f"/plans/{plan}/bench/")
    page = she.page
    expect(page.get_by_role("heading", name="Step 1 of")).to_be_visible()
    she.waits_until_kept()
    go_to_the_first_pour(she)
    she.press("Poured")
    expect(page.locator("li[aria-current=step]")).to_contain_text("2 of 3")

    context.set_offline(True)
    she.press("Spilled")
    she.press("A Tide Blue")
    she.touch(page.get_by_role("button", name="Half"))
    expect(page.get_by_role("button", name="Undo")).to_contain_text("spilled")
    she.press("Failed")
    expect(page.locator("li[aria-current=step]")).to_contain_text("3 of 3")
    page.reload()
    expect(page.locator("li[aria-current=step]")).to_contain_text("3 of 3")
    expect(page.get_by_text("No network")).to_be_visible()
    she.press("Poured")
    expect(page.get_by_text("2 poured, 1 failed, 0 not poured")).to_be_visible()
    she.touch(page.get_by_text("Cup residue"))
    she.press("Log this session")
    expect(page.get_by_role("heading", name="Waiting for the network")).to_be_visible()
    assert not Session.objects.exists()

    other = context.new_page()  # a second tab: what waits is sent once
    context.set_offline(False)
    other.goto(f"/plans/{plan}/bench/")
    expect(page.get_by_role("heading", name="The session is logged.")).to_be_visible()
    session = Session.objects.get()
    assert [pour.outcome for pour in session.pours.order_by("number")] == ["open", "failed", "open"]
    assert [each.spilled > 0 for each in account_of(session).mixes] == [True]
    assert check().is_clean
    expect(page.get_by_role("link", name="Weigh what ran off")).to_have_attribute(
        "href", f"/sessions/{session.pk}/weigh/"
    )
    she.follow("Open the session")
    she.sees("Harbour lights")
    she.unfold("More", page)
    she.press("Log out")
    expect(page.get_by_role("button", name="Log in")).to_be_visible()
    assert page.evaluate("caches.keys()") == []
