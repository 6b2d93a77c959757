"""Ten minutes from an empty studio to the first priced piece: the whole way in a browser, its effort counted.

Six materials, one recipe, one session, one piece, a printed price list, and no terminal. GOAL is what it may take,
EFFORT what it took when last measured; a way that takes more fails here, so that it stays short.

The figures, by hand: white is 20.00 for 500 mL, medium 10.00 for a litre, a canvas 4.00, varnish 0.08 a millilitre. The
recipe is one part of white to one of medium: 300 mL hold 150 mL of each, 6.00 and 1.50. All of it goes on one canvas:
4.00 + 7.50 = 11.50.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass, field

import pypdfium2
import pytest
from playwright.sync_api import BrowserContext, Page

from inventory.ledger.verification import check
from studio.accounts.models import User
from tests.browser.chromium import DESK, PHONE, Screen
from tests.browser.steps import Visitor
from tests.browser.watching import Watch

pytestmark = pytest.mark.browser

PHRASE = "eleven-canvases-by-noon"
STUDIO, TITLE = "Netloft Studio", "Low water, first light"
WHITE, MEDIUM, CANVAS, VARNISH = "White paint", "Pouring medium", "Canvas 30 × 30 cm", "Gloss varnish"
TICKED = [WHITE, "Blue paint", MEDIUM, CANVAS, VARNISH]  # with tap water, which is ticked already: six
HELD = {WHITE: ("500 ml", "20"), MEDIUM: ("1 l", "10"), CANVAS: ("5", "20"), VARNISH: ("250 ml", "20")}
POUR = "Pour white"


@dataclass(frozen=True)
class Effort:
    """What the way takes: what is pressed or ticked, filled in, and opened."""

    clicks: int
    fields: int
    pages: int


GOAL = Effort(clicks=60, fields=35, pages=25)
EFFORT = Effort(clicks=22, fields=25, pages=14)  # last measured on a phone; a desk takes one click less


@dataclass
class Counted(Visitor):
    """Somebody whose every step is counted. Going to an address by hand is not a way that she would find."""

    clicks: int = 0
    fields: int = 0
    opened: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.page.on("load", self._loaded)

    def _loaded(self, page: Page) -> None:
        self.opened.append(re.sub(r"\d+", "N", page.url.split("?")[0].partition("/")[2]))

    def touch(self, target: object) -> None:
        self.clicks += 1
        super().touch(target)  # type: ignore[arg-type]

    def write(self, answers: object, within: object = None) -> None:
        for answer in answers.values():  # type: ignore[attr-defined]
            self.clicks += isinstance(answer, bool)
            self.fields += not isinstance(answer, bool)
        super().write(answers, within)  # type: ignore[arg-type]

    def choose(self, label: str, words: str, within: object = None) -> None:
        self.fields += 1
        super().choose(label, words, within)  # type: ignore[arg-type]

    @property
    def effort(self) -> Effort:
        return Effort(self.clicks, self.fields, len(self.opened))


@pytest.mark.parametrize("screen", [PHONE, DESK], ids=str)
def test_it_goes_from_nothing_to_the_first_priced_piece_within_its_goals(
    screen: Screen, visit: Callable[[Screen], BrowserContext], server: str
) -> None:
    assert not User.objects.exists()
    context = visit(screen)
    watch = Watch(context, server)
    she = Counted(context.new_page(), screen)

    she.open("/")
    become_owner(she)
    begin_studio(she)
    write_recipe(she)
    log_session(she)
    price_piece(she)
    print_price_list(she)

    assert watch.told() == []
    assert check().is_clean
    print(she.effort, she.opened)
    assert she.effort.clicks <= min(GOAL.clicks, EFFORT.clicks), she.effort
    assert she.effort.fields <= min(GOAL.fields, EFFORT.fields), she.effort
    assert she.effort.pages <= min(GOAL.pages, EFFORT.pages), she.opened


def become_owner(she: Counted) -> None:
    she.sees("15 characters")
    she.write({"Username": "wren", "Password": PHRASE, "Repeat password": PHRASE})
    she.press("Create my account")


def begin_studio(she: Counted) -> None:
    """The browser is British, and so is the country that is proposed."""
    she.write({"Studio name": STUDIO})
    she.press("Continue")
    she.sees("GBP")
    she.write(dict.fromkeys([*TICKED, "Market stall, cash"], True))
    she.press("Continue")
    for name, (amount, cost) in HELD.items():
        she.write({"Amount": amount, "Cost (GBP)": cost}, she.row(name))
    she.press("Continue")
    she.sees("Opening stock saved")


def write_recipe(she: Counted) -> None:
    she.follow(re.compile("Add a recipe"))
    she.write({"Recipe name": POUR})
    for number, material in enumerate((WHITE, MEDIUM), start=1):
        she.write({"Material": material, "Parts": "1"}, she.row(f"Part {number}"))
    she.press("Save recipe")
    she.sees(POUR)


def log_session(she: Counted) -> None:
    she.follow(re.compile("Log a session"))
    she.sees("Record what you mixed")
    cup = she.row("Cup 1")
    she.choose("Contents", POUR, cup)
    she.write({"Total amount": "300 ml"}, cup)
    pours = she.row("Pours 1")
    she.choose("Surface", CANVAS, pours)
    she.write({"How many": "1", "Technique": "Flip cup", "Poured per surface": "300 ml"}, pours)
    she.press("Save session")
    she.sees("Session saved")


def price_piece(she: Counted) -> None:
    """Named, priced, finished and offered on one page. It dried too soon for the studio's own rule, which asks once."""
    she.follow("Its pieces")
    she.write({"Title": TITLE, "Price (GBP)": "95"})
    she.write({"Finished and for sale": True})
    she.press("Save the pieces")
    she.write({"Finish it anyway": True})
    she.press("Save the pieces")
    she.sees("saved")


def print_price_list(she: Counted) -> None:
    link = she.page.get_by_role("link", name="Price list", exact=True).filter(visible=True).first
    if not link.is_visible():  # a phone's bar has it behind More
        she.touch(she.page.get_by_role("navigation").get_by_text("More", exact=True))
    she.touch(link)
    she.press("Print the list")
    she.page.wait_for_url("**/price-list/paper/**")
    paper = she.page.request.get(she.page.url)
    text = " ".join(pypdfium2.PdfDocument(paper.body())[0].get_textpage().get_text_range().split())
    assert STUDIO in text
    assert TITLE in text
    assert "£95.00" in text
