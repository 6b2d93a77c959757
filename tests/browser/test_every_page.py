"""Every page of the demo on a phone and on a desk: accessible, within its width, quiet, light, and without strangers.

By default each page is looked at on a light phone (360 px) and a dark desk (1440 px). Three more widths are measured
only: 768 px, 1024 px (a small desk, where the rail leaves less room than a tablet has) and 320 px, at which nothing may
scroll sideways (Web Content Accessibility Guidelines 2.2, success criterion 1.4.10, "Reflow").
MENISCUS_BROWSER_MATRIX=1 looks at 360, 768 and 1440 px, light and dark, each with the whole check.
"""

import os
from collections.abc import Callable, Iterator

import pytest
from axe_playwright_python.base import AXE_SCRIPT
from django.urls import reverse
from playwright.sync_api import BrowserContext, Page

from tests.browser.addresses import DOOR, Stop, files, stops, takes_key
from tests.browser.chromium import DESK, EVERY_SCREEN, Screen
from tests.browser.demo import OWNER, build_small_demo
from tests.browser.steps import Visitor
from tests.browser.unvisited import ONLY_SENT, SENT_WITH
from tests.browser.watching import Watch, measure

pytestmark = pytest.mark.browser

WHOLE = os.environ.get("MENISCUS_BROWSER_MATRIX") == "1"
SCREENS = EVERY_SCREEN if WHOLE else [Screen(360, 800, "light", touch=True), Screen(1440, 900, "dark")]
# W3C, Web Content Accessibility Guidelines 2.2, levels A and AA, by the tags of axe-core's rules.
RULES = {
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"],
    "resultTypes": ["violations"],
    "preload": False,
}
RUN_AXE = "rules => axe.run(rules).then(found => found.violations)"
HEAVIEST = 265_000  # bytes without photos, uncompressed; a repeated session with its scripts is the heaviest
BENCH = ("inventory:session", "inventory:stock", "inventory:material", "inventory:lot", "inventory:pour")


@pytest.fixture
def look(visit: Callable[[Screen], BrowserContext]) -> Callable[[Screen], Visitor]:
    """Builds the demo and puts somebody before its door; axe comes along on every page."""

    def look_on(screen: Screen) -> Visitor:
        build_small_demo()
        context = visit(screen)
        context.add_init_script(AXE_SCRIPT)  # put in later, the content security policy would refuse it
        page = context.new_page()
        page.emulate_media(reduced_motion="reduce")  # no colour is measured while it changes
        return Visitor(page, screen)

    return look_on


@pytest.mark.parametrize("screen", SCREENS, ids=str)
def test_every_page_is_accessible_and_keeps_to_itself(
    screen: Screen, look: Callable[[Screen], Visitor], server: str
) -> None:
    she = look(screen)
    watch = Watch(she.page.context, server)
    wrong = _all_problems([DOOR], she, watch)
    she.sign_in(OWNER.username, OWNER.phrase)
    wrong += _all_problems(stops(), she, watch)
    assert not wrong, "\n".join(["", *wrong])


def _all_problems(chosen: list[Stop], she: Visitor, watch: Watch) -> list[str]:
    return [
        f"{stop} ({stop.address()}): {problem}"
        for stop in chosen
        for problem in _problems(she.page, stop, she.screen, watch)
    ]


def _problems(page: Page, stop: Stop, screen: Screen, watch: Watch) -> Iterator[str]:
    answer = page.goto(stop.address())
    if answer is None or answer.status != 200:
        yield f"answered {answer and answer.status}"
        return
    measured = measure(page)
    if measured["wider"] > 0:
        yield f"{measured['wider']} px wider than the screen"
    yield from measured["spilt"]
    if not 0 < measured["weight"] < HEAVIEST:
        yield f"weighs {measured['weight']} bytes"
    if stop.name.startswith(BENCH):
        yield from measured["low"]
    yield from watch.told()
    for violation in page.evaluate(RUN_AXE, RULES):
        nodes = [node["html"][:160] for node in violation["nodes"][:4]]
        yield f"{violation['id']}: {violation['help']}: {nodes}"
    watch.told()  # axe writes styles of its own, which the content security policy rightly refuses
    for width in (768, 1024) if not screen.touch else (320,):
        yield from _at(width, page)
    page.set_viewport_size({"width": screen.width, "height": screen.height})


def _at(width: int, page: Page) -> Iterator[str]:
    page.set_viewport_size({"width": width, "height": 1024})
    measured = measure(page)
    if measured["wider"] > 0:
        yield f"{measured['wider']} px wider than a screen of {width} px"
    yield from (f"{table} at {width} px" for table in measured["spilt"])


def test_what_opens_no_page_is_only_sent_or_a_file(look: Callable[[Screen], Visitor]) -> None:
    she = look(DESK)
    she.sign_in(OWNER.username, OWNER.phrase)
    asked = she.page.request
    for name in sorted(ONLY_SENT):
        args = SENT_WITH.get(name, [1] if takes_key(name) else [])
        assert asked.get(reverse(name, args=args)).status == 405, name
    for stop in files():
        answer = asked.get(stop.address())
        assert answer.status == 200, stop
        assert not answer.headers["content-type"].startswith("text/html"), stop
