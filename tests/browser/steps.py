"""What somebody does on a page, by what she sees and hears: roles and labels, never the markup beneath."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from re import Pattern

from playwright.sync_api import Locator, Page, expect

from tests.browser.chromium import Screen

Place = Page | Locator

UNTIL_KEPT = """async () => {
    for (let left = 150; left; left--) {
        const kept = await caches.open("meniscus.pages." + document.body.dataset.user);
        const needed = [location.pathname, ...Array.from(document.scripts, script => script.src).filter(Boolean)];
        if ((await Promise.all(needed.map(each => kept.match(each)))).every(Boolean)) { return; }
        await new Promise(resolve => setTimeout(resolve, 100));
    }
    throw new Error("The page is not kept.");
}"""


def labelled(label: str) -> Pattern[str]:
    """A field's label in full, with or without the words that say its unit or that it is optional."""
    return re.compile(rf"^\s*{re.escape(label)}(, in .+?)?:?(\s+optional)?\s*$")


@dataclass(slots=True)
class Visitor:
    """Somebody in front of a screen. Where no place is given, the whole page is meant."""

    page: Page
    screen: Screen

    def open(self, address: str) -> None:
        answer = self.page.goto(address)
        assert answer is not None
        assert answer.ok, f"{address} answered {answer.status}"

    def sign_in(self, name: str, phrase: str) -> None:
        self.open("/login/")
        self.write({"Username": name, "Password": phrase})
        self.press("Log in")
        expect(self.page).not_to_have_url(re.compile("/login/"))

    def press(self, name: str, within: Place | None = None) -> None:
        """Press a button."""
        self.touch((within or self.page).get_by_role("button", name=name, exact=True))

    def follow(self, name: str | Pattern[str], within: Place | None = None) -> None:
        """Follow the first link of that name on the page itself, past the navigation."""
        place = within or self.page.get_by_role("main")
        self.touch(place.get_by_role("link", name=name, exact=True).first)

    def unfold(self, name: str, within: Place | None = None) -> None:
        """Open what is folded away."""
        self.touch((within or self.page.get_by_role("main")).get_by_text(name, exact=True))

    def touch(self, target: Locator) -> None:
        """Tap where the screen takes fingers, click where it does not."""
        if self.screen.touch:
            target.tap()
        else:
            target.click()

    def row(self, name: str) -> Locator:
        """A row of a form: Cup 1, Line 2 …"""
        return self.page.get_by_role("group", name=name, exact=True)

    def write(self, answers: Mapping[str, str | bool], within: Place | None = None) -> None:
        """Fill fields by their labels: with text, with the words of a choice, or with a tick."""
        for label, answer in answers.items():
            field = (within or self.page).get_by_label(labelled(label)).filter(visible=True)
            if isinstance(answer, bool):
                field.set_checked(answer)
            elif field.evaluate("field => field.localName") == "select":
                field.select_option(label=answer)
            else:
                field.fill(answer)

    def choose(self, label: str, words: str, within: Place | None = None) -> None:
        """Take the choice that begins with these words, whatever it says of the stock behind them."""
        field = (within or self.page).get_by_label(labelled(label)).filter(visible=True)
        found = [
            choice for choice in field.get_by_role("option").all_inner_texts() if choice.startswith(words)
        ]
        field.select_option(label=found[0].strip())

    def sees(self, words: str | Pattern[str]) -> None:
        """Wait until the page says this."""
        expect(self.page.get_by_role("main")).to_contain_text(words)

    def waits_until_kept(self) -> None:
        """Wait until the page and its scripts are kept for when there is no network."""
        self.page.evaluate(UNTIL_KEPT)

    def reads(self) -> str:
        """All words of the page, with plain spaces."""
        return " ".join(self.page.get_by_role("main").inner_text().split())
