"""A plan of “Do I have enough?” opens the session form filled in, ready to be posted as it stands."""

import re
from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inventory.errors import NotEnough
from inventory.materials.models import Kind, Material
from inventory.recipes.actions.mixes import Ingredient
from inventory.recipes.forms.choices import FormChoices
from inventory.recipes.models import Mix, RecipeVersion
from inventory.sessions.actions.sessions import Dose, PourFacts, SessionFacts, log_session
from inventory.sessions.forms import from_plan
from inventory.sessions.forms.from_plan import RowsFromPlan
from inventory.sessions.models import Pour, Session, Technique
from studio.accounts.models import User
from studio.preferences.models import Studio
from tests.days import DAY, TODAY
from tests.hostile import forms_on
from tests.inventory.browsing import KEY, as_user, queries, text_of
from tests.inventory.session_bench import value_of
from tests.making import (
    held,
    make_batch,
    make_lot,
    make_material,
    make_plan,
    make_recipe,
    make_submission,
    make_surface,
    make_water,
    money,
    planned_line,
    the_technique,
    units,
)

pytestmark = pytest.mark.django_db
NEW = "inventory:session-new"


@pytest.fixture
def canvas(db: None) -> Material:
    """Twenty canvases of 1,116 cm², on which ring pours take 0.18 mL/cm²: 200.88 mL each."""
    Technique.objects.filter(name="Ring pour").update(coverage=180, source="general rule of thumb")
    Studio.objects.update(reserve=0)
    found = make_surface(name="Deep canvas")
    make_lot(material=found, quantity=units(20), cost=money(70), on=TODAY - 5 * DAY)
    return found


@pytest.fixture
def white(db: None) -> Material:
    return make_lot(
        material=make_material(name="Sail Loft White"), quantity=units(3000), on=TODAY - 5 * DAY
    ).material


def mixed(name: str, *parts: tuple[Material, int], kind: str = Kind.MIX) -> RecipeVersion:
    return make_recipe(parts=parts, makes=make_material(name=name, kind=kind, density=None), name=name)


def question(surface: Material, *colours: Material, **said: Any) -> dict[str, Any]:
    asked: dict[str, Any] = {"surface": surface.pk, "count": 3, "technique": the_technique().pk}
    return asked | {f"colour_{number}": colour.pk for number, colour in enumerate(colours, start=1)} | said


def chosen(page: Any, name: str) -> str:
    """What is chosen in a list of the page."""
    html = page.content.decode()
    found = re.search(rf'<select name="{name}".*?</select>', html, re.DOTALL)
    assert found is not None, name
    option = re.search(r'value="([^"]*)" selected', found.group())
    return option.group(1) if option else ""


def post_as_it_stands(client: Client, page: Any) -> Any:
    (form,) = [
        form
        for form in forms_on("/sessions/new/", page.content.decode())
        if "cups-TOTAL_FORMS" in str(form.fields)
    ]
    kinds = ("submit", "file", "checkbox")
    data = {field.name: unescape(field.value) for field in form.fields if field.kind not in kinds}
    data = {name: value for name, value in data.items() if "__prefix__" not in name}
    data |= {
        name: chosen(page, name)
        for name in data
        if name.endswith(("contents", "-surface", "technique", "leftover"))
    }
    return client.post(reverse(NEW), data | {"key": KEY, "held_on": TODAY.isoformat()})


def test_the_plan_carries_its_own_question_to_the_form(
    owner: User, canvas: Material, white: Material
) -> None:
    client = as_user(owner)
    asked = client.get(reverse("inventory:stock-check"), question(canvas, white))
    link = re.search(
        r'href="(/sessions/new/\?[^"]+)"[^>]*>(?:(?!</a>).)*Log this session',
        asked.content.decode(),
        re.DOTALL,
    )
    assert link is not None
    page = client.get(unescape(link.group(1)))
    assert "Filled in from your plan" in text_of(page)
    assert value_of(page, "pours-0-alike") == "3"


def test_recipes_surfaces_and_amounts_are_filled_in_and_can_be_posted(
    signed: Client, canvas: Material, white: Material
) -> None:
    pale, deep = mixed("Pale", (white, 1), (make_water(), 1)), mixed("Deep", (white, 2), (make_water(), 1))
    page = signed.get(
        reverse(NEW), question(canvas, pale.recipe.makes, deep.recipe.makes, parts_1="2", parts_2="1")
    )
    # 602.64 mL of paint, 401.76 and 200.88 of it, each cup rounded up and the pour rounded down to a tenth.
    assert [chosen(page, f"cups-{n}-contents") for n in (0, 1)] == [
        f"r{pale.recipe_id}",
        f"r{deep.recipe_id}",
    ]
    assert [value_of(page, f"cups-{n}-wanted") for n in (0, 1)] == ["401.8 mL", "200.9 mL"]
    assert value_of(page, "pours-0-each") == "200.8 mL"
    assert chosen(page, "pours-0-surface") == str(canvas.pk)

    response = post_as_it_stands(signed, page)
    assert response.status_code == 302, text_of(response)
    session = Session.objects.get()
    assert [pour.poured for pour in session.pours.all()] == [200_800] * 3
    assert {mix.version_id for mix in session.mixes.all()} == {pale.pk, deep.pk}


def test_the_reserve_goes_into_the_cups_and_not_onto_the_surface(
    signed: Client, canvas: Material, white: Material
) -> None:
    page = signed.get(reverse(NEW), question(canvas, white, count=1, reserve="20"))
    assert chosen(page, "cups-0-contents") == f"m{white.pk}"
    assert value_of(page, "cups-0-wanted") == "241.1 mL"
    assert value_of(page, "pours-0-each") == "200.8 mL"


def test_what_stands_in_a_jar_is_poured_from_it_and_the_rest_is_mixed(
    signed: Client, canvas: Material, white: Material
) -> None:
    pale = mixed("Pale", (white, 1), (make_water(), 1))
    jar = make_batch(version=pale, quantity=units(150), on=TODAY - DAY).lot
    page = signed.get(reverse(NEW), question(canvas, pale.recipe.makes))
    assert [chosen(page, f"cups-{n}-contents") for n in (0, 1)] == [
        f"m{jar.material_id}",
        f"r{pale.recipe_id}",
    ]
    assert [value_of(page, f"cups-{n}-wanted") for n in (0, 1)] == ["150 mL", "452.7 mL"]
    assert post_as_it_stands(signed, page).status_code == 302
    assert 0 <= held(jar)[0] < units(1)


def test_what_must_be_mixed_first_becomes_a_cup_that_nothing_is_poured_from(
    signed: Client, canvas: Material, white: Material
) -> None:
    glue = make_lot(material=make_material(name="Glue", kind=Kind.MEDIUM), on=TODAY - 5 * DAY).material
    medium = mixed("Loft medium", (glue, 2), (make_water(), 1), kind=Kind.MEDIUM)
    pale = mixed("Pale", (white, 1), (medium.recipe.makes, 2))
    page = signed.get(reverse(NEW), question(canvas, pale.recipe.makes, white))
    assert [chosen(page, f"cups-{n}-contents") for n in (0, 1, 2)] == [
        f"r{medium.recipe_id}", f"r{pale.recipe_id}", f"m{white.pk}",
    ]  # fmt: skip
    assert value_of(page, "pours-0-each") == ""
    assert [value_of(page, f"pours-0-cup_{n}") for n in (1, 2, 3)] == ["", "100.4 mL", "100.4 mL"]
    response = post_as_it_stands(signed, page)
    assert response.status_code == 302, text_of(response)
    assert Mix.objects.count() == 2
    assert {pour.poured for pour in Pour.objects.all()} == {units("200.8")}


def test_a_second_surface_becomes_a_row_of_its_own_however_many_are_alike(
    signed: Client, canvas: Material, white: Material
) -> None:
    tile = make_surface(name="Tile", height=10_000, width=10_000, depth=None)
    page = signed.get(reverse(NEW), question(canvas, white, surface_2=tile.pk, count_2=130))
    assert [value_of(page, f"pours-{n}-alike") for n in range(2)] == ["3", "130"]
    assert chosen(page, "pours-1-surface") == str(tile.pk)


def test_more_cups_than_the_form_holds_leave_out_what_is_mixed_first(
    owner: User, canvas: Material, white: Material, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(from_plan, "MOST_CUPS", 8)
    glue = make_lot(material=make_material(name="Glue", kind=Kind.MEDIUM), on=TODAY - 5 * DAY).material
    medium = mixed("Loft medium", (glue, 2), (make_water(), 1), kind=Kind.MEDIUM)
    colours = [mixed(f"Tint {n}", (white, n), (medium.recipe.makes, 2)) for n in range(1, 7)]
    for version in colours[:2]:
        batch = make_batch(version=mixed_once(version, white), quantity=units(20), on=TODAY - DAY)
        assert batch.lot.material == version.recipe.makes
    page = as_user(owner).get(reverse(NEW), question(canvas, *(version.recipe.makes for version in colours)))
    words = text_of(page)
    assert "There is no room here for Loft medium." in words
    assert chosen(page, "cups-0-contents").startswith("m")
    assert value_of(page, "cups-7-wanted") != ""


def mixed_once(version: RecipeVersion, white: Material) -> RecipeVersion:
    """An older version of white alone, by which some of the colour was mixed."""
    older = RecipeVersion.objects.create(
        recipe=version.recipe, number=0, basis=version.basis, written_on=TODAY
    )
    older.parts.create(material=white, parts=1000, line=1)
    return older


@pytest.mark.parametrize(
    "spoilt",
    [
        {"technique": ""},
        {"surface": "x"},
        {"count": "0"},
        {"colour_1": "999999"},
        {"count": "9" * 40},
        {"reserve": "x\x00"},
    ],
)
def test_a_question_that_cannot_be_read_opens_an_empty_form_and_says_so(
    signed: Client, canvas: Material, white: Material, spoilt: dict[str, str]
) -> None:
    page = signed.get(reverse(NEW), question(canvas, white) | spoilt)
    assert page.status_code == 200
    assert "Enter it again under “Do I have enough?”." in text_of(page)
    assert value_of(page, "pours-0-alike") == "1"


def test_the_form_asks_as_many_queries_for_one_surface_as_for_many(
    owner: User, canvas: Material, white: Material
) -> None:
    tile = make_surface(name="Tile", height=10_000, width=10_000, depth=None)
    make_lot(material=tile, quantity=units(90), cost=money(9), on=TODAY - 5 * DAY)
    client = as_user(owner)

    def address(**said: Any) -> str:
        asked = question(canvas, white, **said)
        return f"{reverse(NEW)}?" + "&".join(f"{name}={value}" for name, value in asked.items())

    assert queries(client, address(count=1)) == queries(
        client, address(count=2, surface_2=tile.pk, count_2=80)
    )


def test_amounts_are_written_with_the_studios_decimal_mark(canvas: Material, white: Material) -> None:
    from inventory.sessions.queries.planning import Colour, SetLine, SetPlan, plan_set

    Studio.objects.update(locale="de_DE")
    plan = SetPlan([SetLine(canvas, 1, the_technique(), [Colour(white, 1)])])
    planned = RowsFromPlan(plan_set(plan, on=TODAY), FormChoices(Studio.current()))
    assert planned.rows()["cups"][0]["wanted"] == "200,9 mL"


def test_surfaces_in_colours_of_their_own_take_of_their_own_cups_alone(
    signed: Client, canvas: Material, white: Material
) -> None:
    blue = make_lot(material=make_material(name="Slack Tide Blue"), quantity=units(3000)).material
    pale, deep = mixed("Pale", (white, 1)), mixed("Deep", (blue, 1))
    plan = make_plan(*(planned_line(canvas, 2, each.recipe.makes) for each in (pale, deep)))
    page = signed.get(reverse("inventory:session-new"), {"plan": plan.pk})
    cups = [chosen(page, f"cups-{number}-contents") for number in (0, 1)]
    own = {f"r{each.recipe_id}": cups.index(f"r{each.recipe_id}") + 1 for each in (pale, deep)}
    for row, each in enumerate((pale, deep)):
        number = own[f"r{each.recipe_id}"]
        assert value_of(page, f"pours-{row}-each") == ""
        assert value_of(page, f"pours-{row}-cup_{number}") == "200.8 mL"
        assert value_of(page, f"pours-{row}-cup_{3 - number}") == ""


@pytest.mark.parametrize(
    ("ahead", "proposed"), [(-1, -1), (0, 0), (3, 0)], ids=["past", "today", "still to come"]
)
def test_a_plans_session_is_of_its_day_once_that_has_passed(
    signed: Client, canvas: Material, white: Material, ahead: int, proposed: int
) -> None:
    today = timezone.localdate()
    plan = make_plan(planned_line(canvas, 1, white), on=today + ahead * DAY)
    assert value_of(signed.get(reverse(NEW), {"plan": plan.pk}), "held_on") == str(today + proposed * DAY)


def test_what_came_in_after_the_day_is_named_where_that_day_is_short(
    signed: Client, canvas: Material
) -> None:
    gloves = make_material(name="Gloves", kind=Kind.SUNDRY, measure="count")
    make_lot(material=gloves, quantity=units(20), on=TODAY - DAY)
    with pytest.raises(NotEnough) as refusal:
        log_session(
            facts=SessionFacts(
                held_on=TODAY - 2 * DAY,
                pours=[
                    PourFacts(
                        the_technique(),
                        [Dose(units(20), material=make_lot(on=TODAY - 5 * DAY).material)],
                        surface=canvas,
                    )
                ],
                sundries=[Ingredient(gloves, units(1))],
            ),
            submission=make_submission(),
        )
    [short] = refusal.value.shortfalls
    assert (short.held, short.later, short.later_from) == (0, units(20), TODAY - DAY)
    assert "from 9 June 2025 on" in refusal.value.described[0]
