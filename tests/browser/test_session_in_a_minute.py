"""A usual session logged on a phone in about a minute: its taps and fields are counted, and the page's height measured.

A tap is a touch of a button, a link, a tick box or something folded away. A field is one that is chosen in or typed in;
choosing from a list is two taps as well, typing is one.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass, field

import pytest
from playwright.sync_api import BrowserContext, Locator, expect

from inventory.ledger.verification import check
from inventory.materials.models import Kind
from inventory.sessions.models import Session
from studio.accounts.actions import add_person
from studio.accounts.models import Role, User
from tests import making
from tests.browser.chromium import Screen
from tests.browser.steps import Visitor, labelled
from tests.browser.watching import measure
from tests.inventory.recipe_stories import make_ratio

pytestmark = pytest.mark.browser

NAME, PHRASE = "wren", "eleven-canvases-by-noon"
PAINTS, MEDIUM = ("Sail Loft White", "Marram Green", "Leeward Blue"), "Loft medium"
BOARDS = ("Round board 20 cm", "Round board 30 cm", "Tile 15 cm")
SMALL_PHONE = Screen(360, 740, touch=True)
MOST_SCREENS = 4


@dataclass
class Thumb:
    """Somebody at a phone, whose taps and fields are counted."""

    she: Visitor
    taps: int = 0
    fields: int = 0
    tallest: float = field(default=0)

    def tap(self, target: Locator) -> None:
        self.look()  # before it: the tap may lead to another page
        self.she.touch(target)
        self.taps += 1

    def press(self, name: str, row: str = "") -> None:
        place = self.she.row(row) if row else self.she.page
        self.tap(place.get_by_role("button", name=name, exact=True))

    def choose(self, label: str, words: str, row: str) -> None:
        self.she.choose(label, words, self.she.row(row))
        self.taps += 2
        self.fields += 1
        self.look()

    def look(self) -> None:
        """Note how many screens high the page is."""
        pixels = self.she.page.evaluate("document.documentElement.scrollHeight")
        self.tallest = max(self.tallest, pixels / self.she.screen.height)


@pytest.fixture
def thumb(visit: Callable[[Screen], BrowserContext]) -> Thumb:
    """A shelf with three paints, a medium and boards, a ratio that is a favourite, and a session poured last week."""
    owner = add_person(User(username=NAME, role=Role.OWNER), password=PHRASE, submission=None)
    paints = [making.make_material(name=name) for name in PAINTS]
    medium = making.make_material(name=MEDIUM, kind=Kind.MEDIUM)
    boards = [making.make_surface(name=name) for name in BOARDS]
    stock = [(each, making.units(2000), making.money(20)) for each in (*paints, medium)]
    stock += [(each, making.units(10), making.money(35)) for each in boards]
    making.make_delivery(lines=stock, by=owner)
    make_ratio("1 : 2", name="Ring pours", is_favourite=True)
    mixed = making.make_recipe(parts=[(paints[0], 1), (medium, 2)], name="Pale tide")
    making.make_batch(version=mixed, quantity=making.units(30))
    pour = making.pour_of(material=paints[0], quantity=making.units(150), surface=boards[0])
    making.make_session(pours=[pour], by=owner)
    she = Visitor(visit(SMALL_PHONE).new_page(), SMALL_PHONE)
    she.sign_in(NAME, PHRASE)
    return Thumb(she)


def mix_three_cups(thumb: Thumb) -> None:
    """Three paints by the favourite ratio in the medium used last."""
    thumb.she.open("/sessions/new/")
    thumb.tap(thumb.she.page.get_by_text("By a ratio", exact=True))
    for paint in PAINTS:
        thumb.tap(thumb.she.page.locator("#by-ratio").get_by_text(paint))
    thumb.press("Add these cups")
    expect(thumb.she.row("Cup 3")).to_contain_text("Leeward Blue")


def pour_on(thumb: Thumb, board: str) -> None:
    thumb.press(f"Add a pour on {board}")


def test_three_cups_of_paint_and_medium_over_three_alike_boards_take_nine_taps_and_no_field(
    thumb: Thumb,
) -> None:
    mix_three_cups(thumb)
    for _time in range(3):
        pour_on(thumb, BOARDS[0])
    pours = thumb.she.row("Pours 1")
    expect(pours.get_by_label(labelled("How many"))).to_have_value("3")
    expect(pours.get_by_label(labelled("Poured per surface"))).not_to_have_value("")
    thumb.press("Save session")
    thumb.she.sees("Session saved")
    assert (thumb.taps, thumb.fields) == (9, 0)
    assert thumb.tallest <= MOST_SCREENS, thumb.tallest
    session = Session.objects.latest("pk")
    assert session.pours.count() == 3
    assert session.mixes.count() == 3
    assert check().is_clean


def test_three_different_boards_take_nine_taps_no_field_and_four_screens(thumb: Thumb) -> None:
    mix_three_cups(thumb)
    for number, board in enumerate(BOARDS, start=1):
        pour_on(thumb, board)
        told = thumb.she.page.get_by_role("status").filter(has_text=f"Pours {number}: 1 × {board}")
        expect(told).to_have_count(1)
    for number, board in enumerate(BOARDS, start=1):
        expect(thumb.she.row(f"Pours {number}")).to_contain_text(
            re.compile(rf"1 × {board}, Ring pour, \d+ mL")
        )
        expect(thumb.she.row(f"Pours {number}")).to_contain_text("Materials £")
    thumb.look()
    assert measure(thumb.she.page)["low"] == []
    thumb.press("Save session")
    thumb.she.sees("Session saved")
    assert (thumb.taps, thumb.fields) == (9, 0)
    assert thumb.tallest <= MOST_SCREENS, thumb.tallest
    session = Session.objects.latest("pk")
    assert len({pour.surface_id for pour in session.pours.all()}) == 3
    assert {pour.technique.name for pour in session.pours.all()} == {"Ring pour"}


def test_cups_filled_for_the_pours_follow_them_until_somebody_types_an_amount(thumb: Thumb) -> None:
    mix_three_cups(thumb)
    thumb.choose("Surface", BOARDS[0], "Pours 1")
    each = thumb.she.row("Pours 1").get_by_label(labelled("Poured per surface"))
    # A first pour says 150 mL; the technique's own figure has its share too.
    expect(each).not_to_have_value("")
    cups = [thumb.she.page.locator(f'[name="cups-{number}-wanted"]') for number in range(3)]
    alone = cups[0].input_value()
    assert alone == cups[2].input_value() != ""
    thumb.press("How many: more", "Pours 1")
    expect(cups[0]).not_to_have_value(alone)
    thumb.tap(thumb.she.row("Cup 2").locator("summary").first)
    cups[1].fill("90 ml")
    each.fill("100 ml")
    thumb.press("How many: more", "Pours 1")
    # 3 × 100 mL and a tenth more are 330 mL; 90 of them are typed, the other two cups share the rest.
    expect(cups[0]).to_have_value("120 mL")
    expect(cups[2]).to_have_value("120 mL")
    expect(cups[1]).to_have_value("90 ml")
    expect(thumb.she.row("Cup 2")).to_contain_text("Loft medium")


def test_a_session_is_repeated_with_two_taps(thumb: Thumb) -> None:
    mix_three_cups(thumb)
    thumb.choose("Surface", BOARDS[0], "Pours 1")
    thumb.press("How many: more", "Pours 1")
    thumb.press("How many: more", "Pours 1")
    thumb.press("Save session")
    thumb.she.sees("Session saved")
    thumb.she.open("/sessions/new/")
    thumb.taps, thumb.fields, thumb.tallest = 0, 0, 0
    thumb.tap(thumb.she.page.get_by_role("link", name="Repeat the last session"))
    thumb.she.sees("Filled in from")
    expect(thumb.she.page.locator("#session-total")).to_contain_text("£")
    thumb.look()
    assert measure(thumb.she.page)["low"] == []
    thumb.press("Save session")
    thumb.she.sees("Session saved")
    assert (thumb.taps, thumb.fields) == (2, 0)
    assert thumb.tallest <= MOST_SCREENS, thumb.tallest
    assert [pours.pours.count() for pours in Session.objects.order_by("-pk")[:2]] == [3, 3]


def test_a_set_that_is_kept_under_a_name_is_poured_again_with_two_taps(thumb: Thumb) -> None:
    she = thumb.she
    mix_three_cups(thumb)
    thumb.choose("Surface", BOARDS[2], "Pours 1")
    thumb.press("Save session")
    she.sees("Session saved")
    she.unfold("Keep as a set under a name")
    she.write({"Name of the set": "Tuesday tiles"})
    she.press("Save")
    she.sees("“Tuesday tiles” is offered")
    she.open("/sessions/new/")
    thumb.taps, thumb.fields, thumb.tallest = 0, 0, 0
    thumb.tap(she.page.get_by_role("link", name="Tuesday tiles"))
    she.sees("Filled in from")
    thumb.press("Save session")
    she.sees("Session saved")
    assert (thumb.taps, thumb.fields) == (2, 0)
    assert thumb.tallest <= MOST_SCREENS, thumb.tallest
    again = Session.objects.latest("pk")
    assert [pour.surface.name for pour in again.pours.all()] == [BOARDS[2]]
    assert again.mixes.count() == 3
