"""A plan of ten boards in three colours with each of four media, made with one ratio: by touch and at a desk."""

from collections.abc import Callable
from time import monotonic

import pytest
from playwright.sync_api import BrowserContext, expect

from inventory.materials.models import Kind
from inventory.plans.models import Plan
from studio.accounts.actions import add_person
from studio.accounts.models import Role, User
from tests import making
from tests.browser.chromium import DESK, DESK_WITHOUT_SCRIPT, PHONE, Screen
from tests.browser.steps import Visitor
from tests.browser.watching import Watch, measure

pytestmark = pytest.mark.browser

NAME, PHRASE = "wren", "eleven-canvases-by-noon"
PAINTS = ("Sail Loft White", "Lantern Amber", "Tidewrack Green")
MEDIA = ("Loft medium", "Quay medium", "Slip medium", "Tarn medium")
TWO_MINUTES = 120


@pytest.mark.parametrize("screen", [PHONE, DESK, DESK_WITHOUT_SCRIPT], ids=str)
def test_ten_boards_in_three_colours_with_each_of_four_media_are_planned_with_one_ratio(
    screen: Screen, visit: Callable[[Screen], BrowserContext], server: str
) -> None:
    add_person(User(username=NAME, role=Role.OWNER), password=PHRASE, submission=None)
    for kind, names in ((Kind.PAINT, PAINTS), (Kind.MEDIUM, MEDIA)):
        for name in names:
            making.make_material(name=name, kind=kind)
    making.make_water(name="Tap water")
    making.make_surface(name="Round board")
    context = visit(screen)
    watch = Watch(context, server)
    she = Visitor(context.new_page(), screen)
    she.sign_in(NAME, PHRASE)
    began = monotonic()
    she.open("/plans/new/")
    she.write({"Name": "Lamps"})
    she.unfold("By a ratio")
    block = she.page.locator("#by-ratio")
    she.choose("Surface", "Round board", block)
    she.write(
        {"How many with each medium": "10", "Technique": "Ring pour", "Or type one": "1 : 2 : ½"}, block
    )
    for name in (*PAINTS, *MEDIA):
        she.touch(block.get_by_text(f"{name} (none in stock)", exact=True))
    she.press("Add these rows", block)
    expect(she.row("Surfaces 4")).to_be_visible()
    assert measure(she.page)["low"] == []
    she.page.get_by_label("Name", exact=True).press("Enter")  # saves, whatever other buttons there are
    she.sees("“Lamps” has been saved.")
    assert monotonic() - began < TWO_MINUTES
    lines = Plan.objects.get().lines.all()
    assert [(line.count, line.arm, line.colours.count()) for line in lines] == [
        (10, medium, 3) for medium in MEDIA
    ]
    assert watch.told() == []
