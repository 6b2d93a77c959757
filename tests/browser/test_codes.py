"""Sign-in codes from the first page to the last: on, out, in with the phone, in with the sheet, off.

The clock that codes are made from stands still until the phone is told otherwise: no slow machine types a stale one.
Every page on the way is looked at. MENISCUS_PICTURES names a folder to keep pictures of them in.
"""

import os
import re
from collections.abc import Callable

import pytest
from axe_playwright_python.base import AXE_SCRIPT
from django_otp.plugins.otp_static.models import StaticDevice
from django_otp.plugins.otp_totp.models import TOTPDevice
from playwright.sync_api import BrowserContext, expect

from studio.accounts.actions import add_person
from studio.accounts.models import Role, User
from tests.browser.chromium import DESK_WITHOUT_SCRIPT, EVERY_SCREEN, PHONE, Screen
from tests.browser.steps import Visitor
from tests.browser.test_every_page import HEAVIEST, RULES, RUN_AXE, WHOLE
from tests.browser.watching import Watch, measure
from tests.studio.accounts.two_factor.phones import Phone

pytestmark = pytest.mark.browser

NAME, PHRASE = "wren", "eleven-canvases-by-noon"
SCREENS = EVERY_SCREEN if WHOLE else [PHONE, Screen(1440, 900, "dark"), DESK_WITHOUT_SCRIPT]
PICTURES = os.environ.get("MENISCUS_PICTURES")


class Looker(Visitor):
    """A visitor who looks twice at every page: with axe, with a measure, and at what the browser complains of."""

    watch: Watch

    def looks(self, name: str) -> None:
        self.page.wait_for_load_state()
        measured = measure(self.page)
        if PICTURES:
            self.page.screenshot(path=f"{PICTURES}/codes-{name}-{self.screen}.png", full_page=True)
        assert measured["wider"] <= 0, name
        assert measured["low"] == [], name
        assert 0 < measured["weight"] < HEAVIEST, name
        assert self.watch.told() == [], name
        if self.screen.script:
            assert self.page.evaluate(RUN_AXE, RULES) == [], name
            self.watch.told()  # axe writes styles of its own, which the content security policy rightly refuses

    def gives(self, code: str) -> None:
        self.write({"Code": code})
        self.press("Log in")

    def gives_password(self) -> None:
        self.open("/login/")
        self.write({"Username": NAME, "Password": PHRASE})
        self.press("Log in")
        self.sees("Now enter your code")

    def leaves(self) -> None:
        self.page.context.clear_cookies()


@pytest.fixture
def enter(visit: Callable[[Screen], BrowserContext], server: str) -> Callable[[Screen], Looker]:
    """The owner before a screen, signed in by her password."""

    def enter_on(screen: Screen) -> Looker:
        add_person(User(username=NAME, role=Role.OWNER), password=PHRASE, submission=None)
        context = visit(screen)
        context.add_init_script(AXE_SCRIPT)
        she = Looker(context.new_page(), screen)
        she.watch = Watch(context, server)
        she.sign_in(NAME, PHRASE)
        return she

    return enter_on


def waited_long_enough() -> None:
    """As if the seconds had passed that the library lets her wait after a wrong code."""
    for model in (TOTPDevice, StaticDevice):
        model.objects.update(throttling_failure_timestamp=None)


@pytest.mark.parametrize("screen", SCREENS, ids=str)
def test_codes_from_the_first_page_to_the_last(
    screen: Screen, enter: Callable[[Screen], Looker], monkeypatch: pytest.MonkeyPatch
) -> None:
    she = enter(screen)
    phone = Phone(monkeypatch)
    sheet = _switches_on(she, phone)
    _comes_in_with_the_phone(she, phone)
    _comes_in_with_the_sheet(she, sheet[0])
    _switches_off(she, sheet[1])


def _switches_on(she: Looker, phone: Phone) -> list[str]:
    she.open("/two-factor/")
    she.looks("off")
    she.write({"Password": PHRASE})
    she.press("Continue")
    she.sees("Scan this with your phone")
    she.looks("secret")
    she.write({"Code": "123"})
    she.press("Switch on two-factor sign-in")
    she.sees("This code is not correct")
    she.looks("secret refused")
    waited_long_enough()
    she.write({"Code": phone.code(User.objects.get())})
    she.press("Switch on two-factor sign-in")
    she.sees("They are shown only once")
    she.looks("recovery")
    sheet = she.page.locator(".recovery code").all_inner_texts()
    assert len(sheet) == 10
    she.follow("I have saved them")
    she.sees("10 of 10")
    she.looks("on")
    return sheet


def _comes_in_with_the_phone(she: Looker, phone: Phone) -> None:
    she.leaves()
    she.gives_password()
    she.looks("door")
    she.gives("000000")
    she.sees("Wait 1 second,")
    she.looks("door refused")
    waited_long_enough()
    phone.later()
    she.gives(phone.code(User.objects.get()))
    expect(she.page).not_to_have_url(re.compile("/login/"))


def _comes_in_with_the_sheet(she: Looker, code: str) -> None:
    she.leaves()
    she.gives_password()
    she.follow("Use a recovery code")
    she.sees("Sixteen letters and digits")
    she.looks("door recovery")
    she.write({"Recovery code": code})
    she.press("Log in")
    she.sees("That recovery code has already been used")


def _switches_off(she: Looker, code: str) -> None:
    she.open("/two-factor/")
    she.sees("9 of 10")
    form = she.page.locator("form[action='/two-factor/off/']")
    she.write({"Password": PHRASE, "Code": code}, form)
    she.press("Switch off two-factor sign-in", form)
    she.sees("Two-factor sign-in is off")
    she.looks("off again")
