"""The shopping list on a phone, with the network gone in the shop: every touch is kept and sent, then it is ordered."""

from collections.abc import Callable

import pytest
from django.utils import timezone
from playwright.sync_api import BrowserContext, expect

from inventory.alerts.actions.refreshing import refresh_alerts
from inventory.alerts.models import Alert
from inventory.purchasing.models import Order
from inventory.shopping.models import ShoppingEntry
from studio.accounts.actions import add_person
from studio.accounts.models import Role, User
from tests import making
from tests.browser.chromium import PHONE, Screen
from tests.browser.steps import Visitor
from tests.browser.watching import measure
from tests.inventory.shopping.stories import low, sells

pytestmark = pytest.mark.browser

NAME, PHRASE = "wren", "eleven-canvases-by-noon"
SMALLEST = 72  # CSS pixels, for a thumb in a shop: own choice


@pytest.fixture
def people(transactional_db: None) -> None:
    """White and blue are low; one shop sells both."""
    add_person(User(username=NAME, role=Role.OWNER), password=PHRASE, submission=None)
    shop = making.make_supplier(name="Limpet Quay Colours")
    for name in ("Chalk White", "Harbour Blue"):
        sells(shop, low(name=name), 600, 9)
    refresh_alerts(on=timezone.localdate(), at=timezone.now())


def test_what_is_ticked_without_a_network_is_sent_later_and_the_rest_is_ordered(
    visit: Callable[[Screen], BrowserContext], people: None
) -> None:
    context = visit(PHONE)
    she = Visitor(context.new_page(), PHONE)
    she.sign_in(NAME, PHRASE)
    she.open("/shopping/in-the-shop/")
    page = she.page
    white = page.get_by_role("button", name="Chalk White")
    assert measure(page)["wider"] <= 0
    assert white.evaluate("button => button.getBoundingClientRect().height") >= SMALLEST
    she.waits_until_kept()

    context.set_offline(True)
    white.click()
    expect(white).to_have_attribute("aria-pressed", "true")
    page.reload()
    expect(page.get_by_role("button", name="Chalk White")).to_have_attribute("aria-pressed", "true")
    assert not ShoppingEntry.objects.exists()

    with page.expect_response("**/api/shopping-ticks/"):
        context.set_offline(False)
    she.open("/shopping/")
    expect(page.get_by_role("button", name="Chalk White is in the basket")).to_have_attribute(
        "aria-pressed", "true"
    )
    assert [entry.material.name for entry in ShoppingEntry.objects.all() if entry.material] == ["Chalk White"]

    page.get_by_role("button", name="Order from Limpet Quay Colours").click()
    expect(page.get_by_text("1 order saved")).to_be_visible()
    assert [line.material.name for line in Order.objects.get().lines.all()] == ["Harbour Blue"]
    waiting = Alert.objects.waiting(timezone.localdate()).filter(material__isnull=False)
    assert [alert.figures["name"] for alert in waiting] == ["Chalk White"]
