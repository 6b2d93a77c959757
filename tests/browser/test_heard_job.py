"""The main job by ear: every page is told whole to a screen reader, and what a save did is where the focus is."""

from collections.abc import Callable

import pytest
from playwright.sync_api import BrowserContext, expect

from costing.pricing.models import SalesChannel
from inventory.materials.models import Kind
from studio.accounts.actions import add_person
from studio.accounts.models import Role, User
from studio.preferences.models import Studio
from tests import making
from tests.browser import test_main_job as job
from tests.browser.chromium import PHONE, Screen
from tests.browser.hearing import Listener
from tests.browser.steps import Visitor, labelled

pytestmark = pytest.mark.browser

STOCK = (
    (job.WHITE, "500 ml", "20"),
    (job.GLUE, "1 l", "10"),
    (job.CANVAS, "4 each", "16"),
    (job.VARNISH, "100 ml", "8"),
)


@pytest.fixture
def she(visit: Callable[[Screen], BrowserContext]) -> Listener:
    """An owner on a phone, with materials, a supplier and a channel, and nothing in stock."""
    add_person(User(username=job.NAME, role=Role.OWNER), password=job.PHRASE, submission=None)
    studio = Studio.current()
    studio.name, studio.currency = job.STUDIO, "EUR"
    studio.save()
    for name in (job.WHITE, job.BLUE):
        making.make_material(name=name, density=1_120_000)
    making.make_material(name=job.GLUE, kind=Kind.MEDIUM, density=1_090_000)
    making.make_material(
        name=job.VARNISH, kind=Kind.FINISH, hazards="H317: may cause an allergic skin reaction."
    )
    making.make_supplier(name=job.SUPPLIER, currency="EUR")
    making.make_water(name=job.WATER)
    making.make_surface(name=job.CANVAS)
    page = visit(PHONE).new_page()
    Visitor(page, PHONE).sign_in(job.NAME, job.PHRASE)
    return Listener(page, PHONE)


def test_the_main_job_is_told_whole_to_somebody_who_listens(she: Listener) -> None:
    open_stock(she)
    take_delivery(she)
    write_recipe(she)
    plan(she)
    session(she)
    job.make_piece(she)
    finish(she)
    job.offer_piece(she)
    job.print_price_list(she)
    sell(she)
    assert not she.missed, "\n".join(she.missed)


def open_stock(she: Listener) -> None:
    """A line that says no amount is refused: the focus is on what must be put right, and the field says so itself."""
    she.open("/opening-stock/")
    she.write({"Material": job.WHITE}, she.row("Line 1"))
    she.press("Save opening stock")
    she.hears("Please fix this")
    wrong = [each for each in she.listen().values() if each.is_invalid]
    assert wrong
    assert all(each.is_described for each in wrong)
    for number, (material, amount, cost) in enumerate(STOCK, start=1):
        line = {"Material": material, "Amount left": amount, "Cost of what is left (EUR)": cost}
        she.write(line, she.row(f"Line {number}"))
    expect(she.row("Line 4").get_by_role("status")).to_contain_text("H317")
    she.press("Save opening stock")
    she.hears("saved")


def take_delivery(she: Listener) -> None:
    """Lines that are pasted become rows; one without a price is refused, and the focus is on what must be put right."""
    she.open("/deliveries/new/")
    she.write({"Supplier": job.SUPPLIER})
    she.unfold("Paste lines instead of typing each field")
    she.write({"Lines as you would write them": f"{job.BLUE} 250 ml 2 @ 9.50\nBoard 30 x 40 cm, 2 pcs"})
    she.press("Read these lines")
    she.hears("put into rows")
    expect(she.row("Line 2")).to_contain_text("As written: Board 30 x 40 cm")
    she.press("Save delivery")
    she.hears("Please fix this")
    wrong = [each for each in she.listen().values() if each.is_invalid]
    assert wrong
    assert all(each.is_described for each in wrong)
    she.write({"Line price": "7.00"}, she.row("Line 2"))
    she.press("Save delivery")
    she.hears("Delivery saved")


def write_recipe(she: Listener) -> None:
    she.open("/recipes/new/")
    she.write({"Recipe name": job.PALE, "Kind": "Mixed colour"})
    for number, (material, parts) in enumerate({job.WHITE: "1", job.GLUE: "2"}.items(), start=1):
        she.write({"Material": material, "Parts": parts}, she.row(f"Part {number}"))
    she.press("Save recipe")
    she.sees(job.PALE)


def plan(she: Listener) -> None:
    she.open("/plans/new/")
    she.write({"Name": "Two tides"})
    line = she.row("Surfaces 1")
    she.choose("Surface", job.CANVAS, line)
    she.write({"How many": "2", "Technique": "Ring pour"}, line)
    she.choose("Colour 1", job.PALE, line)
    she.press("Save plan")
    she.sees("Two tides")


def session(she: Listener) -> None:
    """What follows from what is typed is told as it is worked out."""
    she.open("/sessions/new/")
    she.choose("Contents", job.PALE, she.row("Cup 1"))
    she.press(f"Add a pour on {job.CANVAS}")
    told = she.page.get_by_role("status")
    expect(told.filter(has_text=f"Pours 1: 1 × {job.CANVAS}")).to_have_count(1)
    pours = she.row("Pours 1")
    she.write({"Technique": "Ring pour", "Poured per surface": "150 ml"}, pours)
    pours.get_by_label(labelled("Poured per surface")).press("Tab")
    expect(told.filter(has_text="Materials in the pours")).to_have_count(1)
    she.listen()
    she.press("Save session")
    she.hears("Session saved")


def finish(she: Listener) -> None:
    she.press("Mark as dry")
    she.follow("Finish it")
    row = she.row("Material 1")
    she.write({"Material": job.VARNISH, "Amount": "15 ml"}, row)
    expect(row.get_by_role("status")).to_contain_text("H317")
    she.press("Save finishing")
    she.hears("may still be wet")
    she.write({"Finish it anyway": True})
    she.press("Save finishing")
    she.hears("is finished")


def sell(she: Listener) -> None:
    SalesChannel.objects.get_or_create(name="Market stall")
    she.open("/pieces/")
    she.follow(job.TITLE)
    she.follow("Sell it")
    she.write({"Where it was sold": "Market stall"})
    she.press("Save sale")
    she.hears("Sold")
    she.open("/sales/")
