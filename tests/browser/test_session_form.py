"""The session form under stress: more than the shelf holds, an impatient finger, and a phone that goes to sleep."""

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import BrowserContext, expect

from inventory.ledger.models import LotBalance, Posting, PostingKind
from inventory.ledger.verification import check
from inventory.materials.models import Kind, Material
from inventory.sessions.models import Session
from studio.accounts.actions import add_person
from studio.accounts.models import Role, User
from tests import making
from tests.browser.chromium import DESK, DESK_WITHOUT_SCRIPT, PHONE, Screen
from tests.browser.steps import Visitor, labelled

pytestmark = pytest.mark.browser

NAME, PHRASE = "wren", "eleven-canvases-by-noon"
WHITE, CANVAS = "Sail Loft White", "Canvas 30"
Enter = Callable[[Screen], Visitor]


@pytest.fixture
def enter(visit: Callable[[Screen], BrowserContext]) -> Enter:
    """Half a litre of white and four canvases on the shelf, and the owner signed in before a screen."""
    owner = add_person(User(username=NAME, role=Role.OWNER), password=PHRASE, submission=None)
    white = making.make_material(name=WHITE, kind=Kind.PAINT)
    canvas = making.make_surface(name=CANVAS)
    making.make_delivery(
        lines=[(white, making.units(500), making.money(10)), (canvas, making.units(4), making.money(14))],
        by=owner,
    )

    def enter_on(screen: Screen) -> Visitor:
        she = Visitor(visit(screen).new_page(), screen)
        she.sign_in(NAME, PHRASE)
        return she

    return enter_on


def write_session(she: Visitor, *, alike: int = 2, each: int = 180) -> None:
    """White straight from the bottle over alike canvases; not sent yet."""
    she.open("/sessions/new/")
    if she.screen.touch:
        she.unfold("The day")
    she.write({"Title": "White on white"})
    cup = she.row("Cup 1")
    she.choose("Contents", WHITE, cup)
    pours = she.row("Pours 1")
    she.choose("Surface", CANVAS, pours)
    she.write({"How many": str(alike), "Technique": "Swipe", "Poured per surface": f"{each} ml"}, pours)


def test_the_total_of_a_cup_and_what_is_suggested_to_pour_follow_a_part_that_is_changed(enter: Enter) -> None:
    she = enter(DESK)
    white, canvas = Material.objects.get(name=WHITE), Material.objects.get(name=CANVAS)
    medium = making.make_material(name="Loft medium", kind=Kind.MEDIUM)
    recipe = making.make_recipe(parts=[(white, 1), (medium, 1)], name="White recipe").recipe
    she.open("/sessions/new/")
    cup = she.row("Cup 1")
    cup.get_by_label(labelled("Contents")).select_option(f"r{recipe.pk}")
    she.write({"Total amount": "400 ml"}, cup)
    pours = she.row("Pours 1")
    pours.get_by_label(labelled("Surface")).select_option(str(canvas.pk))
    she.write({"How many": "4", "Technique": "Swipe"}, pours)
    each = pours.get_by_label(labelled("Poured per surface"))
    expect(each).to_have_value("100 mL")
    part = cup.get_by_label(labelled(WHITE))
    part.fill("80 ml")
    part.press("Tab")
    expect(cup.get_by_label(labelled("Total amount"))).to_have_value("280 mL")
    expect(each).to_have_value("70 mL")
    expect(part).to_have_value("80 ml")


@pytest.mark.parametrize("screen", [PHONE, DESK_WITHOUT_SCRIPT], ids=str)
def test_more_than_the_shelf_holds_is_listed_and_posts_nothing_until_it_is_confirmed(
    screen: Screen, enter: Enter
) -> None:
    she = enter(screen)
    write_session(she, alike=5, each=180)
    she.press("Save session")

    she.sees("Not enough in stock; nothing saved yet")
    shortfalls = she.page.get_by_role("alert").get_by_role("listitem")
    expect(shortfalls).to_have_count(2)
    expect(shortfalls.filter(has_text=WHITE)).to_contain_text("400 mL")  # 5 × 180 less the 500 on the shelf
    expect(shortfalls.filter(has_text=CANVAS)).to_contain_text("1 short")
    assert list(Posting.objects.values_list("kind", flat=True)) == [PostingKind.DELIVERY]
    expect(she.row("Pours 1").get_by_label(labelled("How many"))).to_have_value("5")

    she.write(
        {
            (
                "There was more in the bottles than recorded: add the difference to stock, then save "
                "this session"
            ): True
        }
    )
    she.press("Save session")
    she.sees("Session saved")
    assert list(Posting.objects.order_by("number").values_list("kind", flat=True)) == [
        PostingKind.DELIVERY, PostingKind.COUNT_GAIN, PostingKind.SESSION,
    ]  # fmt: skip
    assert not LotBalance.objects.filter(quantity__gt=0).exists()
    assert check().is_clean


@pytest.mark.parametrize("screen", [DESK, DESK_WITHOUT_SCRIPT], ids=str)
def test_a_double_click_posts_once(screen: Screen, enter: Enter) -> None:
    """With scripting the form goes once; without, both sendings carry one key, and the ledger knows the second."""
    she = enter(screen)
    write_session(she)
    she.page.get_by_role("button", name="Save session").dblclick()
    expect(she.page).to_have_url(re.compile(r"/sessions/\d+/$"))
    assert Session.objects.count() == 1
    assert Posting.objects.filter(kind=PostingKind.SESSION).count() == 1


def test_an_interrupted_session_comes_back_from_the_device_and_is_forgotten_once_it_is_sent(
    enter: Enter,
) -> None:
    she = enter(PHONE)
    write_session(she, each=160)
    context = she.page.context
    she.page.close()

    she = Visitor(context.new_page(), PHONE)
    she.open("/sessions/new/")
    she.sees(re.compile("Your unsaved entries from .* have been restored"))
    expect(she.page.get_by_label("Title")).to_have_value("White on white")
    expect(she.row("Pours 1").get_by_label(labelled("Poured per surface"))).to_have_value("160 ml")
    she.press("Save session")
    she.sees("Session saved")
    poured = Session.objects.get().pours.values_list("poured", flat=True)
    assert list(poured) == [making.units(160)] * 2

    she.open("/sessions/new/")
    expect(she.page.get_by_label("Title")).to_have_value("")
    expect(she.page.get_by_text("Your unsaved entries")).to_have_count(0)
