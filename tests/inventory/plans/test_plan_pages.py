"""Plans on their pages and through the API: kept from a question, answered, ordered for, poured, and compared."""

from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inventory.materials.models import Material, Supply
from inventory.plans.models import Plan
from inventory.purchasing.models import Order
from inventory.sessions.models import Session, Technique
from studio.accounts.models import User
from studio.pages.forms import new_key
from studio.preferences.models import Studio
from tests.inventory.browsing import as_user, text_of
from tests.making import (
    make_lot,
    make_material,
    make_plan,
    make_recipe,
    make_supplier,
    make_surface,
    money,
    planned_line,
    the_technique,
    units,
)
from tests.programs import Program

pytestmark = pytest.mark.django_db


@pytest.fixture
def board(db: None) -> Material:
    """Ten boards of 900 cm², on which a ring pour takes 90 mL."""
    Technique.objects.update(coverage=100)
    Studio.objects.update(reserve=0)
    board = make_surface(name="Board", depth=None, sides_painted=False)
    make_lot(material=board, quantity=units(10))
    return board


@pytest.fixture
def paint(db: None) -> Material:
    """Half a litre of white."""
    return make_lot(material=make_material(name="White"), quantity=units(500)).material


def typed(board: Material, *colours: Material, count: int = 2, **head: Any) -> dict[str, Any]:
    """What the form of a plan sends, with one row."""
    row: dict[str, Any] = {
        "lines-0-surface": board.pk,
        "lines-0-count": count,
        "lines-0-technique": the_technique().pk,
    }
    row |= {f"lines-0-colour_{number}": colour.pk for number, colour in enumerate(colours, start=1)}
    day = timezone.localdate() + timedelta(days=5)
    sent: dict[str, Any] = {
        "key": new_key(),
        "name": "Lamps",
        "planned_on": day.isoformat(),
        "lines-TOTAL_FORMS": 1,
    }
    return {**sent, "lines-INITIAL_FORMS": 0, **row, **head}


def sell(material: Material, *, by: str = "Limpet Colours", pack: int = 250) -> Supply:
    return Supply.objects.create(
        supplier=make_supplier(name=by), material=material, pack_size=units(pack), price=money("4.20")
    )


def in_five_days() -> Any:
    return timezone.localdate() + timedelta(days=5)


def test_a_plan_is_kept_from_the_form_and_answered_on_its_page(
    owner: User, board: Material, paint: Material
) -> None:
    response = as_user(owner).post(reverse("inventory:plan-new"), typed(board, paint, count=4), follow=True)
    plan = Plan.objects.get()
    assert response.redirect_chain[-1][0] == reverse("inventory:plan", args=[plan.pk])
    assert (plan.name, plan.lines.get().count, plan.recorded_by) == ("Lamps", 4, owner)
    assert response.context["answer"].is_enough
    words = text_of(response)
    assert "Enough for 4" in words
    assert "White 360 mL 500 mL 500 mL" in words  # needed, in stock, available


def test_a_row_without_colours_is_poured_in_those_of_the_row_above(
    owner: User, board: Material, paint: Material
) -> None:
    more: dict[str, Any] = {"lines-TOTAL_FORMS": 2, "lines-1-surface": board.pk, "lines-1-count": 3}
    more |= {"lines-1-technique": the_technique("Dutch pour").pk, "lines-1-arm": "blown"}
    as_user(owner).post(reverse("inventory:plan-new"), typed(board, paint, **more))
    second = Plan.objects.get().lines.get(number=2)
    assert ([colour.material for colour in second.colours.all()], second.arm) == ([paint], "blown")


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"name": ""}, "name"),
        ({"planned_on": ""}, "planned_on"),
        ({"planned_on": "soon"}, "planned_on"),
        ({"extra_paint": "lots"}, "extra_paint"),
        ({"lines-0-count": "0"}, "count"),
        ({"lines-0-surface": ""}, "surface"),
        ({"lines-0-technique": ""}, "technique"),
        ({"lines-0-colour_1": ""}, "colour_1"),
        ({"lines-0-parts_2": "3"}, "colour_2"),
        ({"lines-0-parts_1": "0"}, "parts_1"),
        ({"lines-TOTAL_FORMS": 0}, "__all__"),
    ],
)
def test_what_is_wrong_stands_at_its_field_and_nothing_is_kept(
    owner: User, board: Material, paint: Material, change: dict[str, Any], field: str
) -> None:
    response = as_user(owner).post(reverse("inventory:plan-new"), typed(board, paint) | change)
    assert response.status_code == 422
    errors = dict(response.context["form"].errors)
    for row in response.context["formset"].forms:
        errors |= row.errors
    assert field in errors
    assert not Plan.objects.exists()


def test_a_question_is_saved_as_a_plan(owner: User, board: Material, paint: Material) -> None:
    browser = as_user(owner)
    asked = {"surface": board.pk, "count": 3, "technique": the_technique().pk, "colour_1": paint.pk}
    answered = browser.get(reverse("inventory:stock-check"), {**asked, "planned_on": in_five_days()})
    form = browser.get(answered.context["save_url"])
    assert form.context["form"]["planned_on"].value() == in_five_days()
    (row,) = form.context["formset"].forms
    assert [row[name].value() for name in ("surface", "count", "colour_1")] == [board.pk, 3, paint.pk]


def test_a_question_leaves_alone_what_plans_reserve(owner: User, board: Material, paint: Material) -> None:
    make_plan(planned_line(board, 4, paint), on=in_five_days())
    asked = {"surface": board.pk, "count": 3, "technique": the_technique().pk, "colour_1": paint.pk}
    answer = as_user(owner).get(reverse("inventory:stock-check"), asked).context["answer"]
    need = next(need for need in answer.needs if need.material == paint)
    assert (need.held, need.reserved, need.available) == (units(500), units(360), units(140))
    assert (need.short, answer.lines[0].most) == (units(130), 1)


def test_the_stock_and_the_material_say_what_is_reserved_and_available(
    owner: User, board: Material, paint: Material
) -> None:
    plan = make_plan(planned_line(board, 4, paint), on=in_five_days())
    browser = as_user(owner)
    assert "White Paint 500 mL 360 mL 140 mL" in text_of(browser.get(reverse("inventory:stock")))
    page = browser.get(reverse("inventory:material", args=[paint.pk]))
    assert "Reserved 360 mL 360 mL for Harbour lights" in text_of(page)
    assert reverse("inventory:plan", args=[plan.pk]) in page.content.decode()


def test_programs_read_what_is_reserved_and_available(owner: User, board: Material, paint: Material) -> None:
    make_plan(planned_line(board, 4, paint), on=in_five_days())
    program = Program(owner)
    listed = next(row for row in program.read("materials/")["results"] if row["id"] == paint.pk)
    for row in (listed, program.read(f"materials/{paint.pk}/")):
        assert (row["reserved"]["amount"], row["available"]["amount"]) == (units(360), units(140))
    past = program.read(
        f"materials/{paint.pk}/", as_of=(timezone.localdate() - timedelta(days=1)).isoformat()
    )
    assert (past["reserved"], past["available"]) == (None, None)


def test_what_it_is_short_of_stands_on_the_shopping_list(
    owner: User, board: Material, paint: Material
) -> None:
    blue, unsold = make_material(name="Blue"), make_material(name="Unsold")
    sell(paint), sell(blue, by="Cockle Supplies")
    plan = make_plan(planned_line(board, 10, paint, blue, unsold), on=in_five_days())
    browser = as_user(owner)
    page = browser.get(reverse("inventory:plan", args=[plan.pk]))
    assert page.context["order_url"] == reverse("inventory:shopping-list")
    listed = browser.get(page.context["order_url"]).context["listed"]
    assert [line.material for line in listed.lines] == [blue]  # a third of 900 mL of white is there
    assert [need.material for need in listed.unsold] == [unsold]
    assert page.context["answer"].buy == tuple(line.buy for line in listed.lines)


def test_a_plan_becomes_a_session_and_stands_beside_it(owner: User, board: Material, paint: Material) -> None:
    plan = make_plan(planned_line(board, 2, paint), on=timezone.localdate())
    browser = as_user(owner)
    address = browser.get(reverse("inventory:plan", args=[plan.pk])).context["log_url"]
    draft = browser.get(address).context["draft"]
    assert draft.form["title"].value() == "Harbour lights"
    row = draft.pours.forms[0]
    assert [row[name].value() for name in ("surface", "alike", "each")] == [str(board.pk), "2", "90 mL"]
    sent = draft.form.data | {"cups-0-poured": "", "key": new_key()}
    answered = browser.post(address, sent, follow=True)
    session = Session.objects.get()
    assert answered.redirect_chain[-1][0] == reverse("inventory:session", args=[session.pk])
    plan.refresh_from_db()
    assert plan.session == session
    page = browser.get(reverse("inventory:plan", args=[plan.pk]))
    outcome = page.context["outcome"]
    assert (outcome.pours_planned, outcome.pours, outcome.paint_planned, outcome.paint) == (
        2, 2, units(180), units(180),
    )  # fmt: skip


def test_a_plan_is_copied_for_the_week_after_and_once_however_often_the_button_is_touched(
    owner: User, board: Material, paint: Material
) -> None:
    plan = make_plan(planned_line(board, 2, paint), on=in_five_days())
    browser = as_user(owner)
    key = {"key": new_key()}
    for _ in range(2):
        answered = browser.post(reverse("inventory:plan-copy", args=[plan.pk]), key)
    copied = Plan.objects.exclude(pk=plan.pk).get()
    assert answered["Location"] == reverse("inventory:plan-edit", args=[copied.pk])
    assert copied.planned_on == plan.planned_on + timedelta(days=7)


def test_the_list_says_which_plans_are_short(owner: User, board: Material, paint: Material) -> None:
    make_plan(planned_line(board, 4, paint), on=in_five_days(), name="First")
    make_plan(planned_line(board, 4, paint), on=in_five_days(), name="Second")
    rows = list(as_user(owner).get(reverse("inventory:plans")).context["table"].rows)
    assert [(row.plan.name, row.short) for row in rows] == [("First", 0), ("Second", 1)]


def test_a_plan_that_cannot_be_answered_says_why(owner: User, board: Material) -> None:
    paste = make_material(name="Stone paste", measure="mass", density=1_500_000)
    plan = make_plan(planned_line(board, 1, paste))
    Material.objects.filter(pk=paste.pk).update(density=None)
    page = as_user(owner).get(reverse("inventory:plan", args=[plan.pk]))
    assert page.status_code == 200
    assert "Stone paste has no density" in text_of(page)
    assert as_user(owner).get(reverse("inventory:stock")).status_code == 200


def test_a_helper_plans_and_sees_no_money(helper: User, board: Material, paint: Material) -> None:
    plan = make_plan(planned_line(board, 2, paint))
    assert "£" not in text_of(as_user(helper).get(reverse("inventory:plan", args=[plan.pk])))


def test_pages_ask_as_many_queries_for_few_as_for_many(owner: User, board: Material, paint: Material) -> None:
    browser = as_user(owner)

    def queries(address: str) -> int:
        with CaptureQueriesContext(connection) as seen:
            assert browser.get(address).status_code == 200
        return len(seen)

    def colour() -> Material:
        return make_recipe(parts=[(make_lot().material, 1), (paint, 2)]).recipe.makes

    first = make_plan(planned_line(board, 11, colour()))  # short, as the others will be
    Order.objects.create(number=1, currency="GBP", supplier=make_supplier(), ordered_on=timezone.localdate())
    pages = [
        reverse("inventory:plans"),
        reverse("inventory:stock"),
        reverse("inventory:plan", args=[first.pk]),
        reverse("inventory:plan-edit", args=[first.pk]),
    ]
    few = [queries(page) for page in pages]
    for _ in range(4):
        make_plan(planned_line(board, 1, colour(), colour()), planned_line(board, 2, paint))
    many = make_plan(*(planned_line(board, 1, colour(), paint) for _ in range(5)))
    pages[2:] = [reverse("inventory:plan", args=[many.pk]), reverse("inventory:plan-edit", args=[many.pk])]
    assert [queries(page) for page in pages] == few


# For programs


def body(board: Material, paint: Material, **facts: Any) -> dict[str, Any]:
    colours = [{"material": paint.pk, "share": 1}]
    line = {"surface": board.pk, "count": 4, "technique": the_technique().pk, "colours": colours}
    return {"name": "Lamps", "planned_on": in_five_days().isoformat(), "lines": [line], **facts}


def test_a_program_keeps_a_plan_and_reads_its_answer(owner: User, board: Material, paint: Material) -> None:
    program = Program(owner)
    made = program.send("plans/", body(board, paint), key="once")
    assert program.send("plans/", body(board, paint), key="once", status=200) == made
    assert made["answer"]["is_enough"] is True
    assert made["answer"]["most_pours"] == 4
    assert made["plan"]["lines"][0]["colours"][0]["share"] == 1000
    (listed,) = program.read("plans/")["results"]
    assert (listed["name"], listed["is_poured"]) == ("Lamps", False)
    assert program.refusal("plans/", body(board, paint, lines=[]), status=400)["kind"]


def test_a_program_pours_a_plan(owner: User, board: Material, paint: Material) -> None:
    program = Program(owner)
    plan = program.send("plans/", body(board, paint))["plan"]["id"]
    pour = {
        "surface": board.pk,
        "technique": the_technique().pk,
        "doses": [{"material": paint.pk, "quantity": "85 ml"}],
    }
    session = {"held_on": timezone.localdate().isoformat(), "pours": [pour] * 4, "plan": plan}
    made = program.send("sessions/", session)
    read = program.read(f"plans/{plan}/")
    assert (read["plan"]["session"], read["answer"]) == (made["session"]["id"], None)
    assert (read["outcome"]["pours"], read["outcome"]["paint"]["amount"]) == (4, units(340))
    assert program.refusal("sessions/", session, status=409)


def test_a_surface_that_is_not_in_the_list_is_added_with_the_plan(owner: User, paint: Material) -> None:
    board = make_surface(name="Board")
    data = typed(board, paint) | {
        "lines-0-surface": "",
        "lines-0-new_surface": "Slipway board 30 x 40 x 2 cm",
    }
    plan = as_user(owner).post(reverse("inventory:plan-new"), data)
    assert plan.status_code == 302
    surface = Plan.objects.get().lines.get().surface
    assert (surface.name, surface.kind, surface.measure) == (
        "Slipway board 30 x 40 x 2 cm",
        "surface",
        "count",
    )
    assert {surface.height, surface.width, surface.depth} == {30_000, 40_000, 2_000}


@pytest.mark.parametrize(
    "refused",
    [
        {"name": ""},
        {"lines-0-new_surface": "Slipway board"},
        {"lines-0-colour_1": ""},
        {"lines-0-surface": "chosen"},
    ],
)
def test_a_refused_plan_keeps_the_new_surface_and_adds_nothing(
    owner: User, paint: Material, refused: dict[str, str]
) -> None:
    board = make_surface(name="Board")
    data = typed(board, paint) | {"lines-0-surface": "", "lines-0-new_surface": "Slipway board 30 x 40 cm"}
    data |= {name: str(board.pk) if value == "chosen" else value for name, value in refused.items()}
    response = as_user(owner).post(reverse("inventory:plan-new"), data)
    assert response.status_code == 422
    row = response.context["formset"].forms[0]
    assert row["new_surface"].value() == data["lines-0-new_surface"]
    assert not Plan.objects.exists()
    assert Material.objects.filter(kind="surface").count() == 1


def test_another_row_keeps_the_new_surface_without_adding_it(owner: User, paint: Material) -> None:
    data = typed(make_surface(name="Board"), paint) | {"lines-0-surface": "", "do": "more-lines"}
    data |= {"lines-0-new_surface": "Slipway board 30 x 40 cm"}
    response = as_user(owner).post(reverse("inventory:plan-new"), data)
    rows = response.context["formset"].forms
    assert [row["new_surface"].value() for row in rows] == ["Slipway board 30 x 40 cm", None]
    assert Material.objects.filter(kind="surface").count() == 1


def test_a_helper_names_no_new_surface(helper: User, paint: Material) -> None:
    data = typed(make_surface(name="Board"), paint) | {"lines-0-surface": ""}
    response = as_user(helper).post(
        reverse("inventory:plan-new"), data | {"lines-0-new_surface": "Slipway board 30 x 40 cm"}
    )
    assert response.status_code == 422
    assert not Plan.objects.exists()
