"""A market day on a phone: eight sales, some without a network, one piece sold online meanwhile; counted to the penny.

And a browser that is ended in the middle of it: what was sold is still there, and is sent once.
"""

from collections.abc import Callable
from io import BytesIO
from pathlib import Path

import pytest
import segno
from django.utils import timezone
from PIL import Image
from playwright.sync_api import Browser, BrowserContext, Page, expect

from costing.markets.models import CashCount, MarketDay
from costing.markets.queries import result_of
from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.selling.actions import sell
from costing.selling.models import Sale, SaleLine
from inventory.ledger.verification import check
from studio.accounts.actions import add_person
from studio.accounts.models import Role, User
from tests.browser.chromium import PHONE, Screen
from tests.browser.ending import end_browser_of, opened_on
from tests.browser.steps import Visitor
from tests.browser.watching import measure
from tests.costing.markets.stories import make_market
from tests.costing.stories import a_piece, make_channel, use_rates
from tests.making import make_submission, money
from tests.pictures import encoded

pytestmark = pytest.mark.browser

NAME, PHRASE = "wren", "eleven-canvases-by-noon"
SMALLEST = 72  # CSS pixels, for cold hands: own choice
A_MOMENT, MOST_MOMENTS = 500, 90  # in ms, and so many


@pytest.fixture
def market(transactional_db: None) -> MarketDay:
    """Nine pieces that cost 5.50 each, at 30.00, on a market day of today: pitch 20.00, 10 km at 0.40, seven hours."""
    add_person(User(username=NAME, role=Role.OWNER), password=PHRASE, submission=None)
    use_rates(wage="10.00", overhead="0.00")
    for number in range(1, 10):
        a_piece(title=f"Tide {number}", state=State.FOR_SALE, price="30.00")
    return make_market(on=timezone.localdate())


def touch_piece(she: Visitor, title: str) -> None:
    she.touch(she.page.get_by_role("list", name="For sale").get_by_role("button", name=title))


def sell_for_cash(she: Visitor, given: str, *titles: str) -> None:
    for title in titles:
        touch_piece(she, title)
    she.press("Cash")
    she.press(given)
    expect(she.page.get_by_role("region", name="This sale")).to_be_hidden()


def sell_by_card(she: Visitor, title: str) -> None:
    touch_piece(she, title)
    she.press("Card")
    she.press("Card payment has gone through")
    expect(she.page.get_by_role("region", name="This sale")).to_be_hidden()


def sales_that(page: Page, words: str, count: int) -> None:
    expect(page.locator("[data-sales] > li").filter(has_text=words)).to_have_count(count)


def sold_online(title: str) -> None:
    piece, shop = Piece.objects.get(title=title), make_channel("Online shop")
    day = timezone.localdate()
    sell(piece=piece, channel=shop, price=money(30), submission=make_submission(on=day, at=timezone.now()))


def test_a_market_day_with_the_network_cut_is_reconciled_to_the_penny(
    visit: Callable[[Screen], BrowserContext], market: MarketDay
) -> None:
    context = visit(PHONE)
    she = Visitor(context.new_page(), PHONE)
    page = she.page
    she.sign_in(NAME, PHRASE)
    she.open("/stall/")
    she.waits_until_kept()
    assert measure(page)["wider"] <= 0
    sell_for_cash(she, "Exactly £30.00", "Tide 1")
    sell_for_cash(she, "£100.00", "Tide 2", "Tide 3")
    she.sees("Change £40.00")
    touch_piece(she, "Tide 4")
    heights = page.locator("[data-pay]").evaluate_all(
        "all => all.map(one => one.getBoundingClientRect().height)"
    )
    assert min(heights) >= SMALLEST
    page.get_by_label("Tide 4", exact=True).fill("27.50")  # she lets the buyer have it for less
    she.press("Card")
    she.press("Card payment has gone through")
    sell_by_card(she, "Tide 5")
    sales_that(page, "Recorded", 4)

    context.set_offline(True)
    sell_for_cash(she, "£50.00", "Tide 6")
    she.sees("Change £20.00")
    sell_by_card(she, "Tide 7")
    sell_for_cash(she, "Exactly £30.00", "Tide 8")
    sales_that(page, "Kept on this device", 3)
    sold_online("Tide 8")
    page.reload()
    sales_that(page, "Kept on this device", 3)
    expect(page.get_by_role("list", name="For sale").get_by_role("button")).to_have_count(1)

    context.set_offline(False)
    page.evaluate("window.dispatchEvent(new Event('online'))")
    sales_that(page, "Recorded", 6)
    refused = page.locator("[data-sales] > li[data-state=refused]")
    expect(refused).to_have_count(1)
    expect(refused).to_contain_text("sold")  # and which piece it is
    expect(refused).to_contain_text("Tide 8")
    refused.get_by_role("button", name="Remove this sale").tap()
    expect(refused).to_have_count(0)
    sell_for_cash(she, "Exactly £30.00", "Tide 9")
    sales_that(page, "Recorded", 7)
    assert SaleLine.objects.filter(sale__channel=market.cash_channel).count() == 5
    assert check().is_clean

    # Cash: 1, 2, 3, 6 and 9 at 30.00 are 150.00; with the float 200.00, less 4.00 paid out.
    she.open(f"/markets/{market.pk}/cash/")
    she.write({"Cash counted (GBP)": "196.00", "Paid out of the till (GBP)": "4.00"})
    she.press("Save")
    she.sees("Matches")
    assert (CashCount.objects.get().expected, CashCount.objects.get().difference) == (money(196), 0)
    # Card: 27.50 + 30.00 + 30.00 are 87.50, of which the card takes 0.55 + 0.60 + 0.60. Eight pieces cost 44.00.
    # 237.50 - 1.75 - 44.00 = 191.75 of contribution; 20.00 + 4.00 + 70.00 = 94.00 for the day; 97.75 of profit.
    result = result_of(market).result
    assert (result.contribution, result.fixed, result.profit) == (money("191.75"), money(94), money("97.75"))
    assert result.per_hour == 23_964_286  # (191.75 - 24.00) ÷ 7
    she.sees("£97.75")
    she.sees("£23.96")


def test_a_sale_that_was_a_slip_is_undone_with_one_touch_with_and_without_a_network(
    visit: Callable[[Screen], BrowserContext], market: MarketDay
) -> None:
    context = visit(PHONE)
    she = Visitor(context.new_page(), PHONE)
    page, undo = she.page, she.page.get_by_role("button", name="Undo this sale")
    goods = page.get_by_role("list", name="For sale").get_by_role("button")
    she.sign_in(NAME, PHRASE)
    she.open("/stall/")
    she.waits_until_kept()
    sell_by_card(she, "Tide 1")
    sales_that(page, "Recorded", 1)
    undo.tap()
    she.sees("Undone: Tide 1. For sale again.")
    expect(page.locator("[data-sales] > li")).to_have_count(0)
    expect(goods).to_have_count(9)

    sell_for_cash(she, "Exactly £30.00", "Tide 2")
    sales_that(page, "Recorded", 1)
    context.set_offline(True)
    sell_by_card(she, "Tide 3")
    undo.tap()  # never sent: it is taken off the queue
    sales_that(page, "Kept on this device", 0)
    page.get_by_role("button", name="Undo: Tide 2").tap()
    sales_that(page, "Undone on this device", 1)
    sell_by_card(she, "Tide 2")  # to another buyer, before anything is sent
    context.set_offline(False)
    page.evaluate("window.dispatchEvent(new Event('online'))")
    expect(page.locator("[data-sales] > li")).to_have_count(1)
    sales_that(page, "Recorded", 1)
    kept = SaleLine.objects.filter(returned_on=None).select_related("piece", "sale__channel")
    assert [(line.piece.title, line.sale.channel) for line in kept] == [("Tide 2", market.card_channel)]
    assert Sale.objects.count() == 3  # of Tide 3 the server never heard
    assert check().is_clean


def test_whoever_was_logged_out_meanwhile_is_told_and_what_waits_is_sent_after_logging_in(
    visit: Callable[[Screen], BrowserContext], market: MarketDay
) -> None:
    context = visit(PHONE)
    she = Visitor(context.new_page(), PHONE)
    she.sign_in(NAME, PHRASE)
    she.open("/stall/")
    she.waits_until_kept()
    context.set_offline(True)
    sell_by_card(she, "Tide 5")
    context.clear_cookies()
    context.set_offline(False)
    she.page.evaluate("window.dispatchEvent(new Event('online'))")
    she.sees("You are logged out.")
    assert not Sale.objects.exists()
    she.follow("Log in")
    she.write({"Username": NAME, "Password": PHRASE})
    she.press("Log in")
    sales_that(she.page, "Recorded", 1)
    assert SaleLine.objects.get().piece.title == "Tide 5"


def test_a_label_is_scanned_from_a_photo_where_the_browser_reads_no_codes(
    visit: Callable[[Screen], BrowserContext], market: MarketDay
) -> None:
    """Debian's Chromium has no BarcodeDetector, as an iPhone has none."""
    she = Visitor(visit(PHONE).new_page(), PHONE)
    she.sign_in(NAME, PHRASE)
    she.open("/stall/")
    piece = Piece.objects.get(title="Tide 3")
    for text, says in ((piece.number, "Tide 3"), ("P9999", "No piece for sale has this code: P9999")):
        with she.page.expect_file_chooser() as chooser:
            she.press("Scan")
        chooser.value.set_files({"name": "label.png", "mimeType": "image/png", "buffer": a_label(text)})
        she.sees(says)
    expect(
        she.page.get_by_role("region", name="This sale").get_by_label("Tide 3", exact=True)
    ).to_be_visible()


def a_label(text: str) -> bytes:
    """A photo of a label: askew, on a table."""
    drawn = BytesIO()
    segno.make(text).save(drawn, kind="png", scale=8)
    code = Image.open(drawn).convert("RGB")
    table = Image.new("RGB", (1400, 1000), (120, 96, 70))
    table.paste(code.rotate(9, expand=True, fillcolor="white"), (500, 300))
    return encoded(table, "PNG").getvalue()


def wait_until_written(page: Page, folder: Path) -> None:
    """Chromium writes down seconds later which pages it keeps; a browser that ends before that keeps none."""
    for _moment in range(MOST_MOMENTS):
        if any(b"meniscus.pages" in index.read_bytes() for index in folder.rglob("index.txt")):
            return
        page.wait_for_timeout(A_MOMENT)
    raise AssertionError("The browser never wrote down what it keeps.")


def test_a_browser_that_is_ended_with_a_sale_unsent_loses_nothing_and_sends_it_once(
    browser: Browser, server: str, market: MarketDay, tmp_path: Path
) -> None:
    context = opened_on(browser, tmp_path, server)
    she = Visitor(context.new_page(), PHONE)
    she.sign_in(NAME, PHRASE)
    she.open("/stall/")
    she.waits_until_kept()
    context.set_offline(True)
    sell_for_cash(she, "£100.00", "Tide 1", "Tide 2")
    sales_that(she.page, "Kept on this device", 1)
    wait_until_written(she.page, tmp_path)
    end_browser_of(tmp_path)

    context = opened_on(browser, tmp_path, server, is_online=False)
    page = context.new_page()
    page.goto("/stall/")
    sales_that(page, "Kept on this device", 1)
    end_browser_of(tmp_path)

    assert not Sale.objects.exists()
    context = opened_on(browser, tmp_path, server)
    page = context.new_page()
    Visitor(page, PHONE).sign_in(NAME, PHRASE)  # the login went with the browser
    page.goto("/stall/")
    other = context.new_page()  # a second tab: what waits is sent once
    other.goto("/stall/")
    sales_that(page, "Recorded", 1)
    sales_that(other, "Recorded", 1)
    assert [line.piece.title for line in Sale.objects.get().lines.order_by("pk")] == ["Tide 1", "Tide 2"]
    assert check().is_clean
    context.close()
