"""A shelf counted on a phone: found by a word, Enter leads on, what is left stays in sight."""

from collections.abc import Callable

import pytest
from playwright.sync_api import BrowserContext, expect

from inventory.ledger.models import Lot
from tests import making
from tests.browser.chromium import PHONE, Screen
from tests.browser.steps import Visitor

pytestmark = pytest.mark.browser
NAME, PHRASE = "owner", "eleven-canvases-by-noon"


def test_a_shelf_is_counted_as_bottles_are_found_and_shows_what_is_left(
    visit: Callable[[Screen], BrowserContext],
) -> None:
    lots = [
        making.make_lot(material=making.make_material(name=name)) for name in ("Sea Fog", "Tar Black", "Kelp")
    ]
    Lot.objects.update(place="Window")
    fog, tar, kelp = (f"lot-{lot.pk}-found" for lot in lots)
    owner = making.make_owner()
    owner.set_password(PHRASE)
    owner.save()
    she = Visitor(visit(PHONE).new_page(), PHONE)
    page = she.page
    she.sign_in(NAME, PHRASE)
    she.open("/stocktakes/new/?place=Window")
    status, find = page.locator("[data-counted]"), page.get_by_label("Find a lot")
    expect(status).to_have_text("0 of 3 counted, 3 left")
    find.fill("tar")
    find.press("Enter")
    field = page.locator(f"[name={tar}]")
    expect(field).to_be_focused()
    field.fill("300 ml")
    field.press("Enter")
    expect(find).to_be_focused()  # the form is not sent, and the next bottle is looked for
    find.fill("")
    expect(status).to_have_text("1 of 3 counted, 2 left")
    page.get_by_label("Only what is left").check()
    expect(field).to_be_hidden()
    expect(page.locator(f"[name={fog}]")).to_be_visible()
    page.locator(f"[name={kelp}]").fill("0")
    expect(page.locator(f"[name={kelp}]")).to_be_visible()  # it is still in her hand
    find.fill("tar")
    expect(field).to_be_visible()
    page.wait_for_timeout(500)  # the draft is written a moment after the last key
    page.reload()
    expect(status).to_have_text("2 of 3 counted, 1 left")
