"""A usual set logged with a few touches on a phone: from a plan, by plus and minus, with photos, and taken back."""

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from PIL import Image
from playwright.sync_api import BrowserContext, Locator, Route, expect

from inventory.ledger.models import Posting, PostingKind
from inventory.ledger.verification import check
from inventory.materials.models import Kind, Material
from inventory.sessions.models import Session, SessionPhoto
from studio.accounts.actions import add_person
from studio.accounts.models import Role, User
from tests import making
from tests.browser.chromium import DESK, DESK_WITHOUT_SCRIPT, PHONE, Screen
from tests.browser.steps import Visitor, labelled
from tests.browser.watching import Watch, measure
from tests.pictures import RED, encoded

pytestmark = pytest.mark.browser

NAME, HELPER, PHRASE = "wren", "tern", "eleven-canvases-by-noon"
WHITE, MEDIUM, PALE, CANVAS = "Sail Loft White", "Loft medium", "Pale Shallows", "Canvas 30"
Enter = Callable[..., Visitor]


@pytest.fixture
def enter(visit: Callable[[Screen], BrowserContext], server: str) -> Enter:
    """A shelf with a colour to mix and ten canvases, and somebody signed in before a screen."""
    owner = add_person(User(username=NAME, role=Role.OWNER), password=PHRASE, submission=None)
    add_person(User(username=HELPER, role=Role.HELPER), password=PHRASE, submission=None)
    white, medium = making.make_material(name=WHITE), making.make_material(name=MEDIUM, kind=Kind.MEDIUM)
    canvas = making.make_surface(name=CANVAS)
    making.make_delivery(
        lines=[
            (white, making.units(1000), making.money(10)),
            (medium, making.units(3000), making.money(15)),
            (canvas, making.units(10), making.money(35)),
        ],
        by=owner,
    )
    made = making.make_material(name=PALE, kind=Kind.MIX, density=None)
    making.make_recipe(parts=[(white, 1), (medium, 3)], makes=made, name=PALE)

    def enter_on(screen: Screen, name: str = NAME) -> Visitor:
        context = visit(screen)
        she = Visitor(context.new_page(), screen)
        she.sign_in(name, PHRASE)
        return she

    return enter_on


def field(she: Visitor, label: str, row: str) -> Locator:
    return she.row(row).get_by_label(labelled(label))


def fill(she: Visitor, *, each: str = "100 ml") -> None:
    she.open("/sessions/new/")
    she.choose("Contents", PALE, she.row("Cup 1"))
    she.write({"Total amount": "400 ml"}, she.row("Cup 1"))
    pours = she.row("Pours 1")
    she.choose("Surface", CANVAS, pours)
    she.write({"How many": "2", "Technique": "Ring pour", "Poured per surface": each}, pours)


def photo_file(folder: Path) -> Path:
    path = folder / "IMG_0001.jpg"
    path.write_bytes(encoded(Image.new("RGB", (400, 300), RED)).getvalue())
    return path


def test_a_planned_set_is_logged_in_a_handful_of_touches_and_taken_back_in_one(
    enter: Enter, server: str
) -> None:
    she = enter(PHONE)
    watch = Watch(she.page.context, server)
    she.open("/stock-check/")
    she.choose("Surface", CANVAS)
    she.choose("Colour 1", PALE)
    she.write({"How many": "3", "Technique": "Ring pour"})
    she.press("Do I have enough?")
    she.follow("Log this session")
    she.sees("Filled in from your plan")
    expect(field(she, "How many", "Pours 1")).to_have_value("3")
    expect(she.row("Pours 1")).to_contain_text("Left in stock afterwards: 7 Canvas 30.")
    assert measure(she.page)["low"] == []

    she.press("Poured per surface: less")
    she.press("Save session")
    she.sees("Session saved")
    session = Session.objects.get()
    assert session.pours.count() == 3
    assert {pour.poured % making.units(10) for pour in session.pours.all()} == {
        0
    }  # one step down to round tens

    she.press("Undo")
    she.sees("has been reversed")
    assert Posting.objects.get(kind=PostingKind.REVERSAL).reverses_id == session.posting_id
    assert watch.told() == []
    assert check().is_clean


@pytest.mark.parametrize("screen", [PHONE, DESK], ids=str)
def test_plus_and_minus_keep_the_unit_and_the_figures_follow(screen: Screen, enter: Enter) -> None:
    she = enter(screen)
    fill(she)
    wanted = field(she, "Total amount", "Cup 1")
    figures = she.row("Cup 1").locator(".figures")
    # 100 mL of white are 1.00 and 300 mL of medium 1.50.
    expect(figures).to_contain_text("Costs £2.50")
    expect(figures).to_contain_text("Left in stock afterwards: 900 mL Sail Loft White, 2.7 L Loft medium.")
    she.press("Total amount: more", she.row("Cup 1"))
    expect(wanted).to_have_value("410 ml")
    expect(she.row("Cup 1")).to_contain_text("102.5 mL Sail Loft White")
    expect(figures).to_contain_text("897.5 mL Sail Loft White")

    for typed, more, less in (
        ("1/2 l", "0.6 l", "0.4 l"), ("99 ml", "100 ml", "95 ml"), ("8 fl oz", "9 fl oz", "7 fl oz"),
        ("183 g", "190 g", "180 g"), ("1,250 ml", "1300 ml", "1200 ml"), ("1 1/2 cups", "1.6 cups", "1.4 cups"),
        ("a lot", "a lot", "a lot"), ("2 ml", "3 ml", "1.9 ml"),
    ):  # fmt: skip
        for name, expected in (("more", more), ("less", less)):
            wanted.fill(typed)
            she.press(f"Total amount: {name}", she.row("Cup 1"))
            expect(wanted).to_have_value(expected)


def test_what_is_typed_while_parts_are_worked_out_stays(enter: Enter) -> None:
    she = enter(PHONE)
    fill(she)
    held: list[Route] = []
    she.page.route(
        re.compile("/sessions/new/"),
        lambda route: held.append(route) if "do" in (route.request.post_data or "") else route.continue_(),
    )
    wanted = field(she, "Total amount", "Cup 1")
    wanted.fill("1/2 l")
    with she.page.expect_request(re.compile("/sessions/new/")):
        she.press("Total amount: more", she.row("Cup 1"))
    wanted.fill("1/3 l")
    she.page.wait_for_timeout(200)
    with she.page.expect_response(re.compile("/sessions/new/")):
        for route in held:
            route.continue_()
    expect(she.row("Cup 1")).to_contain_text("150 mL Sail Loft White")  # the parts of what was asked for
    expect(wanted).to_have_value("1/3 l")


def test_an_empty_amount_begins_with_its_example_and_counts_stay_within_their_bounds(enter: Enter) -> None:
    she = enter(PHONE)
    she.open("/sessions/new/")
    wanted, alike = field(she, "Total amount", "Cup 1"), field(she, "How many", "Pours 1")
    she.press("Total amount: more", she.row("Cup 1"))
    expect(wanted).to_have_value("300 ml")
    she.press("How many: less", she.row("Pours 1"))
    expect(alike).to_have_value("1")
    for _time in range(2):
        she.press("How many: more", she.row("Pours 1"))
    expect(alike).to_have_value("3")


def test_minutes_go_by_five(enter: Enter) -> None:
    she = enter(PHONE)
    she.open("/sessions/new/")
    she.unfold("The day")
    minutes = she.page.get_by_label(labelled("Minutes worked"))
    minutes.fill("42")
    for expected in ("45", "50"):
        she.press("Minutes worked: more")
        expect(minutes).to_have_value(expected)
    she.press("Minutes worked: less")
    expect(minutes).to_have_value("45")


def test_a_cup_filled_from_a_bottle_asks_for_no_amount_and_offers_its_bottles(enter: Enter) -> None:
    making.make_lot(material=Material.objects.get(name=WHITE), quantity=making.units(250))
    she = enter(PHONE)
    she.open("/sessions/new/")
    cup = she.row("Cup 1")
    she.choose("Contents", WHITE, cup)
    expect(cup).to_contain_text("Amount in the cup optional")
    expect(cup.get_by_role("button", name="Amount in the cup: more")).to_be_visible()
    expect(cup.get_by_label("Total amount")).to_have_count(0)
    she.unfold("Choose the bottle", cup)
    expect(cup.get_by_label(labelled(f"{WHITE} from"))).to_be_visible()
    pours = she.row("Pours 1")
    she.choose("Surface", CANVAS, pours)
    she.write({"How many": "2", "Technique": "Ring pour", "Poured per surface": "100 ml"}, pours)
    expect(cup.locator(".figures")).to_contain_text("1.05 L Sail Loft White")

    she.choose("Contents", PALE, cup)
    expect(cup.get_by_label(labelled("Total amount"))).to_be_visible()
    expect(cup.get_by_role("button", name="Total amount: more")).to_be_visible()
    expect(cup).not_to_contain_text("Choose the bottle")
    she.choose("Contents", WHITE, cup)
    expect(cup).to_contain_text("Amount in the cup optional")
    she.press("Save session")
    she.sees("Session saved")
    assert {pour.poured for pour in Session.objects.get().pours.all()} == {making.units(100)}


def test_the_arrow_keys_step_where_the_buttons_do(enter: Enter) -> None:
    she = enter(DESK)
    fill(she)
    each = field(she, "Poured per surface", "Pours 1")
    each.press("ArrowUp")
    expect(each).to_have_value("110 ml")
    each.press("ArrowDown")
    each.press("ArrowDown")
    expect(each).to_have_value("95 ml")
    expect(she.row("Pours 1")).to_contain_text("Materials")


def test_a_finger_that_stays_steps_on(enter: Enter) -> None:
    she = enter(DESK)
    fill(she)
    button = she.row("Pours 1").get_by_role("button", name="Poured per surface: more")
    button.hover()
    she.page.mouse.down()
    she.page.wait_for_timeout(1000)
    she.page.mouse.up()
    value = field(she, "Poured per surface", "Pours 1").input_value()
    assert int(value.split()[0]) >= 120


def test_every_step_button_is_large_enough_for_a_glove(enter: Enter) -> None:
    she = enter(PHONE)
    fill(she)
    she.page.evaluate("document.querySelectorAll('details').forEach(fold => { fold.open = true; })")
    small = she.page.evaluate(
        "Array.from(document.querySelectorAll('.stepper-button')).map(b => b.getBoundingClientRect())"
        ".filter(box => box.height && (box.height < 44 || box.width < 44)).length"
    )
    assert small == 0
    assert measure(she.page)["wider"] <= 0


def test_a_helper_sees_amounts_and_no_money(enter: Enter) -> None:
    she = enter(PHONE, HELPER)
    fill(she)
    expect(she.row("Cup 1")).to_contain_text("Left in stock afterwards: 900 mL Sail Loft White")
    expect(she.row("Pours 1")).to_contain_text("8 Canvas 30")
    assert "£" not in she.reads()


def test_without_a_script_the_button_works_the_figures_out(enter: Enter) -> None:
    she = enter(DESK_WITHOUT_SCRIPT)
    fill(she)
    expect(she.page.locator(".stepper-button").first).to_be_hidden()
    she.press("Calculate")
    she.sees("Costs £2.50")
    she.sees("Left in stock afterwards: 8 Canvas 30.")
    assert not Session.objects.exists()


def test_a_photo_survives_a_refusal_and_is_kept_with_the_pours(enter: Enter, tmp_path: Path) -> None:
    she = enter(PHONE)
    fill(she, each="900 ml")
    she.row("Pours 1").locator("input[type=file]").set_input_files(photo_file(tmp_path))
    she.press("Save session")
    she.sees("Please fix this, then save again")
    expect(she.row("Pours 1").locator("input[type=file]")).to_have_value(re.compile(r"IMG_0001\.jpg$"))
    she.write({"Poured per surface": "100 ml"}, she.row("Pours 1"))
    she.press("Save session")
    she.sees("Session saved")
    photo = SessionPhoto.objects.get()
    assert photo.pours.count() == 2
    shown = she.page.get_by_role("img", name="Photo of")
    shown.scroll_into_view_if_needed()  # it is read once it comes near
    expect(shown).to_have_js_property("naturalWidth", 400)  # as large as it was sent

    she.open("/sessions/new/")
    expect(she.row("Pours 1").locator("input[type=file]")).to_have_value("")


def test_a_changed_plan_its_parts_and_its_photo_come_back_after_the_phone_slept(
    enter: Enter, tmp_path: Path
) -> None:
    she = enter(PHONE)
    fill(she)
    she.write({WHITE: "123 ml"}, she.row("Cup 1"))
    she.row("Pours 1").locator("input[type=file]").set_input_files(photo_file(tmp_path))
    expect(she.row("Cup 1").locator(".figures")).to_contain_text("877 mL Sail Loft White")
    context = she.page.context
    she.page.close()

    she = Visitor(context.new_page(), PHONE)
    she.open("/sessions/new/")
    she.sees(re.compile("Your unsaved entries from .* have been restored"))
    expect(field(she, WHITE, "Cup 1")).to_have_value("123 ml")
    expect(she.row("Pours 1").locator("input[type=file]")).to_have_value(re.compile(r"IMG_0001\.jpg$"))
    expect(she.row("Cup 1").locator(".figures")).to_contain_text("877 mL Sail Loft White")
    she.press("Save session")
    she.sees("Session saved")
    assert Session.objects.get().mixes.get().lot.balance.quantity == making.units(423 - 200)
    assert SessionPhoto.objects.count() == 1


def test_a_repeated_session_that_was_changed_comes_back_at_its_own_address_only(enter: Enter) -> None:
    she = enter(PHONE)
    fill(she)
    she.press("Save session")
    she.sees("Session saved")
    again = f"/sessions/new/?repeat={Session.objects.get().pk}"
    she.open(again)
    she.press("How many: more", she.row("Pours 1"))
    expect(field(she, "How many", "Pours 1")).to_have_value("3")
    she.open(again)
    she.sees("have been restored")
    expect(field(she, "How many", "Pours 1")).to_have_value("3")
    she.open(f"{again}&other=1")
    expect(field(she, "How many", "Pours 1")).to_have_value("2")


@pytest.mark.parametrize("screen", [DESK, DESK_WITHOUT_SCRIPT], ids=str)
def test_touching_take_it_back_twice_takes_back_once(screen: Screen, enter: Enter) -> None:
    she = enter(screen)
    fill(she)
    she.press("Save session")
    she.sees("Session saved")
    she.page.get_by_role("button", name="Undo").dblclick()
    she.sees("has been reversed")
    assert Posting.objects.filter(kind=PostingKind.REVERSAL).count() == 1
