"""The whole job as its owner does it: from an empty studio to a printed price list, a sale, and the next order.

Once with fingers on a phone, once at a desk, and once at a desk without scripting.

The figures, by hand: goods for 100.00 and carriage of 10.00, so everything costs a tenth more than its price. White is
then 0.044 a millilitre, blue 11.00 for 227.305 mL (8 imperial fluid ounces), glue 0.011 (1.09 kg at 1.09 g/mL are a
litre), a canvas 4.40, varnish 0.088. 200 mL of medium hold 133⅓ mL of glue: 1.4667. A cup of 300 mL white costs
5.8667, one of blue 6.3060. Each canvas takes 120 mL from each: 4.40 + 2.3467 + 2.5224 = 9.27. The session's hour is
shared by two canvases: 6.00 each at 12.00; 15 mL of varnish are 1.32 and twenty minutes 4.00. Together 20.59.
"""

import re
from collections.abc import Callable

import pypdfium2
import pytest
from playwright.sync_api import BrowserContext, expect

from inventory.ledger.verification import check
from studio.accounts.actions import add_person
from studio.accounts.models import Role, User
from tests.browser.chromium import DESK, DESK_WITHOUT_SCRIPT, PHONE, Screen
from tests.browser.steps import Visitor
from tests.browser.watching import Watch

pytestmark = pytest.mark.browser

NAME, PHRASE = "wren", "eleven-canvases-by-noon"
STUDIO = "The Tide Table"
WHITE, BLUE, GLUE, WATER = "Sail Loft White", "Slack Tide Blue", "Harbour Glue", "Tap water"
CANVAS, VARNISH, MEDIUM = "Canvas 30", "Gloss Varnish", "Loft medium"
PALE, DEEP = "Pale Shallows", "Deep Channel"
SUPPLIER = "Gullhaven Supplies"
TITLE = "Low water, first light"
A_POUR = re.compile(r"^P\d{4}")


@pytest.mark.parametrize("screen", [PHONE, DESK, DESK_WITHOUT_SCRIPT], ids=str)
def test_it_goes_from_an_empty_studio_to_a_printed_price_list(
    screen: Screen, visit: Callable[[Screen], BrowserContext], server: str
) -> None:
    add_person(User(username=NAME, role=Role.OWNER), password=PHRASE, submission=None)
    context = visit(screen)
    watch = Watch(context, server)
    she = Visitor(context.new_page(), screen)

    she.sign_in(NAME, PHRASE)
    furnish(she)
    log_delivery(she)
    write_recipes(she)
    mix_medium(she)
    ask_whether_it_is_enough(she)
    log_session(she)
    make_piece(she)
    finish_piece(she)
    offer_piece(she)
    print_price_list(she)
    sell_piece(she)
    order_again(she)

    assert watch.told() == []
    report = check()
    assert report.is_clean, report.breaks


def furnish(she: Visitor) -> None:
    """Settle the studio's name, currency and wage, and list what there is to use, to buy from and to sell by."""
    she.open("/settings/studio/")
    she.write({"Name": STUDIO, "Currency": "EUR"})
    save(she)
    she.open("/settings/rates/new/")
    she.write({"From": "", "Hourly rate": "12.00"})
    she.press("Save")
    she.sees("Saved.")
    materials: tuple[tuple[str, str, str, dict[str, str | bool]], ...] = (
        (WHITE, "Paint", "Volume (mL)", {"Density": "1.12 g/mL", "Reorder level": "450 ml"}),
        (BLUE, "Paint", "Volume (mL)", {"Density": "1.12 g/mL"}),
        (GLUE, "Medium", "Volume (mL)", {"Density": "1.09 g/mL"}),
        (
            WATER,
            "Medium",
            "Volume (mL)",
            {"Density": "1 g/mL", "Share of water": "100%", "Free, never stocked": True},
        ),
        (CANVAS, "Surface", "Count (each)", {"Size": "30 x 30 x 1.8 cm"}),
        (VARNISH, "Finish", "Volume (mL)", {}),
    )
    for name, kind, counted, more in materials:
        she.open("/materials/new/")
        she.write({"Name": name, "Kind": kind, "Measured in": counted, **more})
        save(she)
    she.open("/suppliers/new/")
    she.write({"Name": SUPPLIER, "Currency": "EUR", "Lead time (days)": "5"})
    save(she)
    she.open("/settings/channels/new/")
    she.write({"Name": "Market stall", "How buyers pay": "Cash"})
    save(she)


def save(she: Visitor) -> None:
    she.press("Save")
    she.sees(re.compile("ha(s|ve) been saved"))


def log_delivery(she: Visitor) -> None:
    """A parcel with lines in five units, whose carriage is shared by value."""
    she.open("/deliveries/new/")
    she.write({"Supplier": SUPPLIER, "Invoice number": "G-117", "Carriage (EUR)": "10.00"})
    for number, (material, pack, packs, price) in enumerate(
        [
            (WHITE, "500 ml", "1", "20.00"),
            (BLUE, "8 fl oz", "1", "10.00"),
            (GLUE, "1.09 kg", "1", "10.00"),
            (CANVAS, "5 each", "2", "40.00"),
            (VARNISH, "1/4 l", "1", "20.00"),
        ],
        start=1,
    ):
        line = {"Material": material, "Pack size": pack, "Packs": packs, "Line price": price}
        she.write(line, she.row(f"Line {number}"))
    she.press("Save delivery")
    she.sees("G-117")
    she.sees("€110.00")
    she.sees("8 imperial fluid ounces = 227.305 mL")


def write_recipes(she: Visitor) -> None:
    """Home-made medium, two parts of glue to one of water (common practice, no source), and two colours out of it."""
    for name, kind, parts in (
        (MEDIUM, "Medium", {GLUE: "2", WATER: "1"}),
        (PALE, "Mixed colour", {WHITE: "1", MEDIUM: "2"}),
        (DEEP, "Mixed colour", {BLUE: "1", MEDIUM: "2"}),
    ):
        she.open("/recipes/new/")
        she.write({"Recipe name": name, "Kind": kind})
        for number, (material, count) in enumerate(parts.items(), start=1):
            she.write({"Material": material, "Parts": count}, she.row(f"Part {number}"))
        she.press("Save recipe")
        she.sees(name)


def mix_medium(she: Visitor) -> None:
    she.open("/mixes/new/")
    she.choose("Recipe", MEDIUM)
    she.write({"Total amount": "600 ml"})
    she.press("Calculate the parts")
    she.sees("together 600 mL")
    she.press("Save mix")
    she.sees("600 mL")


def ask_whether_it_is_enough(she: Visitor) -> None:
    she.open("/stock-check/")
    she.choose("Surface", CANVAS)
    she.write({"How many": "2", "Technique": "Ring pour"})
    she.choose("Colour 1", PALE)
    she.choose("Colour 2", DEEP)
    she.press("Do I have enough?")
    she.sees("Yes")
    she.sees("What goes in each cup")


def log_session(she: Visitor) -> None:
    """Two cups over two canvases, with run-off caught and the rest kept."""
    she.open("/sessions/new/")
    if she.screen.touch:
        she.unfold("The day")
    she.write({"Title": "First tides", "Minutes worked": "60"})
    for number, colour in enumerate([PALE, DEEP], start=1):
        cup = she.row(f"Cup {number}")
        she.choose("Contents", colour, cup)
        she.write({"Total amount": "300 ml"}, cup)
        she.unfold("More about this cup", cup)
        she.write({"Leftover": "Kept, sealed and labelled"}, cup)
    pours = she.row("Pours 1")
    she.choose("Surface", CANVAS, pours)
    she.write({"How many": "2", "Technique": "Ring pour", "Poured per surface": "240 ml"}, pours)
    she.unfold("Run-off, failures, photo and more", pours)
    she.write({"Total run-off": "90 ml"}, pours)
    she.press("Save session")
    she.sees("Session saved")
    she.sees("€18.54")
    she.follow(A_POUR)
    she.sees("45 mL, 18.8% of what was poured")
    assert "Total €9.27" in she.reads()


def make_piece(she: Visitor) -> None:
    she.open("/pieces/new/")
    she.page.get_by_role("checkbox", name=A_POUR).first.check()
    she.write({"Title": TITLE})
    she.press("Create one piece from the selected pours")
    she.sees(TITLE)


def finish_piece(she: Visitor) -> None:
    """It is dry too soon for the studio's own rule, so finishing asks once before it believes that."""
    she.press("Mark as dry")
    she.sees("is now dry")
    she.follow("Finish it")
    she.write({"Minutes worked": "20"})
    she.write({"Material": VARNISH, "Amount": "15 ml"}, she.row("Material 1"))
    she.press("Save finishing")
    she.sees("It may still be wet; nothing saved yet")
    she.write({"Finish it anyway": True})
    she.press("Save finishing")
    she.sees("is finished")
    assert "Total €20.59" in she.reads()


def offer_piece(she: Visitor) -> None:
    she.write({"Asking price (EUR)": "95.00"})
    she.press("Set the price")
    she.sees("Asking price saved.")
    she.press("Offer for sale")
    she.sees("is now for sale")


def print_price_list(she: Visitor) -> None:
    """The browser shows the paper by itself; its address gives the same bytes again."""
    she.open("/price-list/")
    she.sees(TITLE)
    she.press("Print the list")
    she.page.wait_for_url("**/price-list/paper/**")
    paper = she.page.request.get(she.page.url)
    assert paper.headers["content-type"] == "application/pdf"
    text = " ".join(pypdfium2.PdfDocument(paper.body())[0].get_textpage().get_text_range().split())
    assert STUDIO in text
    assert TITLE in text
    assert "€95.00" in text
    assert "30 × 30" in text


def sell_piece(she: Visitor) -> None:
    she.open("/pieces/")
    she.follow(TITLE)
    she.follow("Sell it")
    she.write({"Where it was sold": "Market stall"})
    she.press("Save sale")
    she.sees("Sold")
    she.open("/sales/")
    assert re.search(r"Profit\W+€74\.41", she.reads()), she.reads()


def order_again(she: Visitor) -> None:
    """400 mL of white are left and its own level is 450: an alert stands until the next parcel is in."""
    alert = she.page.get_by_role("listitem").filter(has_text="Your own level.").filter(has_text=WHITE)
    she.open("/alerts/")
    expect(alert).to_have_count(1)
    she.open("/deliveries/new/")
    she.write({"Supplier": SUPPLIER})
    line = {"Material": WHITE, "Pack size": "500 ml", "Packs": "1", "Line price": "20.00"}
    she.write(line, she.row("Line 1"))
    she.press("Save delivery")
    she.sees("€20.00")
    she.open("/alerts/")
    expect(alert).to_have_count(0)
