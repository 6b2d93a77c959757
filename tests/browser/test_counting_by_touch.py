"""Cells are counted on a phone: corners tapped, marks made by finger and by key, nothing lost while out of reach."""

from collections.abc import Callable

import pytest
from playwright.sync_api import BrowserContext, Locator, Page, expect

from inventory.comparisons.models import PhotoCount, PhotoMark, Score
from tests import making
from tests.browser.chromium import PHONE, Screen
from tests.browser.steps import Visitor
from tests.inventory.comparisons.photo_counts import counted_comparison, photograph, place_on

pytestmark = pytest.mark.browser

NAME, PHRASE = "owner", "eleven-canvases-by-noon"
EDGE = 0.025  # of the photo, outside the piece


def tap(page: Page, picture: Locator, *places: tuple[float, float]) -> None:
    """Tap a picture at shares of its width and height."""
    for across, down in places:
        box = picture.bounding_box()
        assert box is not None
        page.touchscreen.tap(box["x"] + box["width"] * across, box["y"] + box["height"] * down)


def test_cells_are_counted_on_a_phone_and_none_is_lost_while_out_of_reach(
    visit: Callable[[Screen], BrowserContext], server: str
) -> None:
    comparison = counted_comparison(each=1, is_blind=True)
    place = place_on(comparison)
    photograph(place.compared.pour)
    owner = making.make_owner()
    owner.set_password(PHRASE)
    owner.save()
    context = visit(PHONE)
    she = Visitor(context.new_page(), PHONE)
    page = she.page
    she.sign_in(owner.username, PHRASE)
    she.open(f"/comparisons/pieces/{place.compared.pk}/count/?stage=wet")
    tap(page, page.locator("[data-photo]"), (0.5, EDGE), (1 - EDGE, 0.5), (0.5, 1 - EDGE), (EDGE, 0.5))
    she.press("Lay the windows")
    piece, marks = page.locator("[data-piece]"), page.locator("[data-marks] path")
    expect(page.locator("[data-count-line]")).to_contain_text("Window 1 of 4")
    tap(page, piece, (0.3, 0.3), (0.6, 0.5), (0.01, 0.01))
    expect(page.locator("[data-warning]")).to_contain_text("outside")
    expect(marks).to_have_count(2)
    expect(page.locator("[data-told]")).to_contain_text(
        "All marks are saved"
    )  # or one of these would wait, too
    context.set_offline(True)
    tap(page, piece, (0.5, 0.7))
    expect(page.locator("[data-told]")).to_contain_text("Not sent yet: 1")
    context.set_offline(False)
    expect(page.locator("[data-told]")).to_contain_text("All marks are saved")
    piece.press("PageDown")
    page.route("**/marks/**", lambda route: route.abort())  # neither sent nor stored when the page goes
    page.evaluate("() => { meniscusOffline.keep = () => new Promise(() => {}); }")
    for key in ("ArrowRight", "Space", "ArrowDown", "ArrowDown", "Enter"):
        piece.press(key)
    expect(marks).to_have_count(4)
    page.reload()
    page.unroute("**/marks/**")
    expect(marks).to_have_count(4)
    page.locator("[data-undo]").tap()
    expect(marks).to_have_count(3)
    she.press("Done counting")
    she.sees("3 in four windows")
    assert PhotoMark.objects.filter(count=PhotoCount.objects.get()).count() == 3
    assert Score.objects.get().photo_count == PhotoCount.objects.get()
