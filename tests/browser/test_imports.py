"""Tables brought in on their pages: a long one saved part by part under her eyes, and a messy studio in an evening."""

import re
from collections.abc import Callable, Mapping

import pytest
from django.urls import reverse
from playwright.sync_api import BrowserContext, FilePayload, expect

from costing.pieces.models import Piece
from costing.selling.models import Sale
from inventory.ledger.models import Lot
from inventory.ledger.verification import check
from inventory.materials.models import Material
from inventory.recipes.models import Recipe
from studio.accounts.actions import add_person
from studio.accounts.models import Role, User
from studio.errors import InputError
from studio.imports.actions import ROWS_AT_ONCE
from tests.browser.chromium import DESK, DESK_WITHOUT_SCRIPT, Screen
from tests.browser.steps import Visitor
from tests.browser.watching import Watch
from tests.studio.imports import messy_studio as messy

pytestmark = pytest.mark.browser

NAME, PHRASE = "wren", "eleven-canvases-by-noon"
ROWS = 2 * ROWS_AT_ONCE + 100
TELL_WHAT_IS_SAID = """
() => new MutationObserver(() => {
  window.heard(document.querySelector("[data-import-progress]").textContent.trim());
}).observe(document.querySelector("[data-import-progress]"), { childList: true })
"""


@pytest.mark.parametrize("screen", [DESK, DESK_WITHOUT_SCRIPT], ids=str)
def test_a_long_table_says_how_far_it_is_while_it_is_saved(
    screen: Screen, visit: Callable[[Screen], BrowserContext], server: str
) -> None:
    add_person(User(username=NAME, role=Role.OWNER), password=PHRASE, submission=None)
    context = visit(screen)
    watch = Watch(context, server)
    she = Visitor(context.new_page(), screen)
    heard: list[str] = []
    if screen.script:
        she.page.expose_function("heard", lambda words: heard.append(words))
    she.sign_in(NAME, PHRASE)
    she.open("/import/materials/")
    rows = "".join(f"Tide {number},paint,volume\n" for number in range(ROWS))
    choose(she, f"Name,Kind,Measured in\n{rows}".encode())
    she.sees(f"{ROWS} rows")
    if screen.script:
        she.page.evaluate(TELL_WHAT_IS_SAID)
    she.press("Save all rows")
    expect(she.page).to_have_url(re.compile(r"/import/materials/\?saved="), timeout=120_000)
    she.sees(f"{ROWS} rows saved.")
    if screen.script:
        reached = (ROWS_AT_ONCE, 2 * ROWS_AT_ONCE, ROWS)
        assert heard == [f"{here} of {ROWS} rows done" for here in reached]
    assert Material.objects.filter(name__startswith="Tide ").count() == ROWS
    assert watch.told() == []


@pytest.mark.parametrize("screen", [DESK, DESK_WITHOUT_SCRIPT], ids=str)
def test_why_rows_could_not_be_saved_is_said_beside_them(
    screen: Screen, visit: Callable[[Screen], BrowserContext], monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_facts: object, **_more: object) -> None:
        raise InputError("The tide is too high.")

    add_person(User(username=NAME, role=Role.OWNER), password=PHRASE, submission=None)
    she = Visitor(visit(screen).new_page(), screen)
    she.sign_in(NAME, PHRASE)
    she.open("/import/materials/")
    choose(she, b"Name,Kind,Measured in\nEbb,paint,volume\n")
    monkeypatch.setattr("inventory.materials.file_import.rows.save_material", refuse)
    she.press("Save all rows")
    she.sees("1 row could not be saved.")
    she.sees("Line 2: The tide is too high.")
    monkeypatch.undo()
    she.press("Check again")
    she.press("Save all rows")
    she.sees("1 row saved.")


def test_a_messy_studio_is_brought_in_sheet_by_sheet(
    visit: Callable[[Screen], BrowserContext], server: str
) -> None:
    add_person(User(username=NAME, role=Role.OWNER), password=PHRASE, submission=None)
    context = visit(DESK)
    watch = Watch(context, server)
    she = Visitor(context.new_page(), DESK)
    she.sign_in(NAME, PHRASE)
    she.open(reverse("costing:channel-new"))
    she.write({"Name": "Market stall", "How buyers pay": "Cash"})
    she.press("Save")

    bring_in(she, "Materials from a file", messy.shelf())
    bring_in(
        she,
        "Opening stock from a file",
        messy.shelf(),
        # A day or an amount in German; here it is neither, so it is left out until she says what it is.
        ("Columns", {"Stand": "Shelf place"}),
        ("The same for all rows", {"Stock as of": messy.COUNTED_ON.isoformat()}),
    )
    bring_in(she, "Recipes from a file", messy.recipes())
    bring_in(she, "Past sessions from a file", messy.poured())
    bring_in(she, "Pieces and past sales from a file", messy.pieces())

    assert Lot.objects.filter(origin="opening").count() == 60
    assert Recipe.objects.count() == 12
    assert (Piece.objects.count(), Sale.objects.count()) == (40, 10)
    assert watch.told() == []
    report = check()
    assert report.is_clean, report.breaks


def bring_in(she: Visitor, title: str, sheet: bytes, *answers: tuple[str, Mapping[str, str]]) -> None:
    """One sheet, from the list of imports to the list of what was imported."""
    she.open("/import/")
    she.follow(title)
    choose(she, sheet)
    for fold, chosen in answers:
        she.sees("with problems")
        if not she.page.get_by_label(next(iter(chosen)), exact=True).is_visible():
            she.unfold(fold)
        she.write(chosen)
        she.press("Check again")
    she.sees("0 with problems")
    she.press("Save all rows")
    expect(she.page).to_have_url(re.compile(r"\?saved="), timeout=120_000)


def choose(she: Visitor, content: bytes) -> None:
    """Choose a file, and have its rows looked at."""
    table = FilePayload(name="sheet.csv", mimeType="text/csv", buffer=content)
    she.page.get_by_label("File", exact=True).set_input_files(files=[table])
    she.press("Check the rows")
