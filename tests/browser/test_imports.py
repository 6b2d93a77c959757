"""Tables brought in on their pages: a long one saved part by part under her eyes."""

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import BrowserContext, FilePayload, expect

from inventory.materials.models import Material
from studio.accounts.actions import add_person
from studio.accounts.models import Role, User
from studio.imports.actions import ROWS_AT_ONCE
from tests.browser.chromium import DESK, DESK_WITHOUT_SCRIPT, Screen
from tests.browser.steps import Visitor
from tests.browser.watching import Watch

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
    content = f"Name,Kind,Measured in\n{rows}".encode()
    table = FilePayload(name="paints.csv", mimeType="text/csv", buffer=content)
    she.page.get_by_label("File", exact=True).set_input_files(files=[table])
    she.press("Check the rows")
    she.sees(f"{ROWS} rows")
    if screen.script:
        she.page.evaluate(TELL_WHAT_IS_SAID)
    she.press("Save all rows")
    expect(she.page).to_have_url(re.compile(r"//[^/]+/materials/"), timeout=120_000)
    if screen.script:
        reached = (ROWS_AT_ONCE, 2 * ROWS_AT_ONCE, ROWS)
        assert heard == [f"{here} of {ROWS} rows done" for here in reached]
    assert Material.objects.filter(name__startswith="Tide ").count() == ROWS
    assert watch.told() == []
