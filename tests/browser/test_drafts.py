"""Unsent entries on a device: they survive a phone that ends the browser, and belong to whoever typed them."""

import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, expect

from studio.accounts.actions import add_person
from studio.accounts.models import Role, User
from tests.browser.chromium import PHONE, Screen
from tests.browser.ending import end_browser_of, opened_on
from tests.browser.steps import Visitor

pytestmark = pytest.mark.browser

NAME, PHRASE = "wren", "eleven-canvases-by-noon"
RESTORED = re.compile("Your unsaved entries from .* have been restored")
TITLE = '[name="title"]'


@pytest.fixture
def owner(transactional_db: None) -> User:
    return add_person(User(username=NAME, role=Role.OWNER), password=PHRASE, submission=None)


def title_typed(she: Visitor, words: str) -> None:
    she.open("/sessions/new/")
    she.unfold("The day")
    she.page.locator(TITLE).fill(words)


def test_what_was_typed_last_is_there_after_the_phone_ended_the_browser_at_once(
    browser: Browser, server: str, owner: User, tmp_path: Path
) -> None:
    context = opened_on(browser, tmp_path, server)
    she = Visitor(context.new_page(), PHONE)
    she.sign_in(NAME, PHRASE)
    title_typed(she, "Neap tide")
    she.page.wait_for_timeout(200)  # a thumb on its way to the next field
    end_browser_of(tmp_path)

    context = opened_on(browser, tmp_path, server)
    she = Visitor(context.new_page(), PHONE)
    she.sign_in(NAME, PHRASE)  # the login went with the browser
    she.open("/sessions/new/")
    she.sees(RESTORED)
    expect(she.page.locator(TITLE)).to_have_value("Neap tide")
    context.close()


def test_a_draft_of_an_earlier_version_is_taken_over_once(
    visit: Callable[[Screen], BrowserContext], owner: User
) -> None:
    she = Visitor(visit(PHONE).new_page(), PHONE)
    she.sign_in(NAME, PHRASE)
    key = f"meniscus.draft.{owner.pk}.session-new"
    now = she.page.evaluate("Date.now()")
    draft = {
        "at": now,
        "page": "",
        "rows": {"cups": 4},
        "fields": {"title": "Spring tide", "cups-3-wanted": "90 ml"},
    }
    she.page.evaluate("([key, text]) => localStorage.setItem(key, text)", [key, json.dumps(draft)])
    she.open("/sessions/new/")
    she.sees(RESTORED)
    expect(she.page.locator(TITLE)).to_have_value("Spring tide")
    expect(she.page.locator('[name="cups-3-wanted"]')).to_have_value("90 ml")
    assert she.page.evaluate("key => localStorage.getItem(key)", key) is None
    she.open("/sessions/new/")
    she.sees(RESTORED)
    she.press("Discard")
    expect(she.page.locator(TITLE)).to_have_value("")
    expect(she.page.get_by_text(RESTORED)).to_have_count(0)


def test_whoever_logs_out_leaves_no_draft_behind(
    visit: Callable[[Screen], BrowserContext], owner: User
) -> None:
    she = Visitor(visit(PHONE).new_page(), PHONE)
    she.sign_in(NAME, PHRASE)
    title_typed(she, "Ebb")
    she.open("/sessions/new/")
    she.sees(RESTORED)
    she.touch(she.page.locator(".menu > summary"))
    she.touch(she.page.get_by_role("button", name="Log out").locator("visible=true"))
    expect(she.page).to_have_url(re.compile("/login/"))
    she.sign_in(NAME, PHRASE)
    she.open("/sessions/new/")
    expect(she.page.locator(TITLE)).to_have_value("")
    expect(she.page.get_by_text(RESTORED)).to_have_count(0)


def test_a_draft_is_not_shown_to_somebody_else_on_the_same_phone(
    visit: Callable[[Screen], BrowserContext], owner: User
) -> None:
    add_person(User(username="tern", role=Role.HELPER), password=PHRASE, submission=None)
    she = Visitor(visit(PHONE).new_page(), PHONE)
    she.sign_in(NAME, PHRASE)
    title_typed(she, "Flood")
    she.open("/sessions/new/")
    she.sees(RESTORED)
    she.page.context.clear_cookies()
    she.sign_in("tern", PHRASE)
    she.open("/sessions/new/")
    expect(she.page.locator(TITLE)).to_have_value("")
    she.page.context.clear_cookies()
    she.sign_in(NAME, PHRASE)
    she.open("/sessions/new/")
    expect(she.page.locator(TITLE)).to_have_value("Flood")
