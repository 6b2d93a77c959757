"""A cup while it is filled, on its page and for programs: readings, an overshoot, and whether stock suffices."""

from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.ledger.models import Posting
from inventory.materials.models import Kind, Material
from inventory.recipes.models import RecipeVersion
from inventory.sessions.models import Technique
from studio.accounts.models import User
from studio.preferences.models import Studio
from tests.inventory.browsing import as_user, text_of
from tests.making import (
    make_lot,
    make_material,
    make_plan,
    make_recipe,
    make_surface,
    make_water,
    planned_line,
)
from tests.programs import Program

pytestmark = pytest.mark.django_db
G = 1000


@pytest.fixture
def mix(db: None) -> RecipeVersion:
    """Paint 1, medium 2, water 1, each of 1 g/mL; a litre of the first two on the shelf, on a scale of 1 g."""
    Studio.objects.update(scale_step=1000, reserve=0)
    paint = make_material(name="Paint", density=1_000_000)
    medium = make_material(name="Medium", kind=Kind.MEDIUM, density=1_000_000)
    for material in (paint, medium):
        make_lot(material=material)
    parts = [(paint, 1), (medium, 2), (make_water(name="Tap water"), 1)]
    return make_recipe(parts=parts, makes=make_material(name="Harbour", kind=Kind.MIX))


def part(version: RecipeVersion, name: str) -> Material:
    return version.parts.get(material__name=name).material


def fill(user: User, version: RecipeVersion, shown: dict[str, str], **more: Any) -> Any:
    asked = {"wanted": "160 ml", **more}
    asked |= {f"shows_{part(version, name).pk}": text for name, text in shown.items()}
    return as_user(user).get(reverse("inventory:cup", args=[version.recipe_id]), asked)


def added(way: Any) -> dict[str, tuple[int, int]]:
    return {each.material.name: (each.amount // G, each.shows // G) for each in way.added}


def test_a_cup_opens_with_its_readings_and_the_empty_cup_in_them(owner: User, mix: RecipeVersion) -> None:
    plain = fill(owner, mix, {})
    assert [reading.shows for reading in plain.context["filled"].readings] == [40 * G, 120 * G, 160 * G]
    assert plain.context["filled"].next is None
    weighed = fill(owner, mix, {}, empty="12 g")
    assert [reading.shows for reading in weighed.context["filled"].readings] == [52 * G, 132 * G, 172 * G]


def test_too_much_of_a_part_rescales_the_rest_and_the_shelf_is_asked(owner: User, mix: RecipeVersion) -> None:
    filled = fill(owner, mix, {"Paint": "46 g"}).context["filled"]
    assert added(filled.next) == {"Medium": (92, 138), "Tap water": (46, 184)}
    assert (filled.next.short, filled.ways) == ([], [])


def test_two_per_cent_is_near_enough(owner: User, mix: RecipeVersion) -> None:
    Studio.objects.update(scale_step=100)
    filled = fill(owner, mix, {"Paint": "40.8 g"}).context["filled"]
    assert filled.filling.is_near_enough
    assert {name: amount for name, (amount, _shows) in added(filled.next).items()} == {
        "Medium": 80,
        "Tap water": 40,
    }


def test_too_little_medium_left_offers_two_ways(owner: User, mix: RecipeVersion) -> None:
    filled = fill(owner, mix, {"Paint": "550 g"}).context["filled"]
    what_there_is, pour_off = filled.ways
    assert added(what_there_is)["Medium"] == (1000, 1550)
    assert (pour_off.kept, added(pour_off)["Medium"][0]) == (500 * G, 1000)
    assert [each.material.name for each in filled.next.short] == ["Medium"]
    assert what_there_is.short == pour_off.short == []


def test_a_cup_too_small_offers_two_ways(owner: User, mix: RecipeVersion) -> None:
    response = fill(owner, mix, {"Paint": "46 g"}, room="160 ml")
    _what_there_is, pour_off = response.context["filled"].ways
    assert (pour_off.kept, added(pour_off)) == (40 * G, {"Medium": (80, 120), "Tap water": (40, 160)})
    assert "Pour some off and keep the proportions" in text_of(response)


def test_a_plan_counts_its_other_cups(owner: User, mix: RecipeVersion) -> None:
    """900 mL, half of it another colour with 225 mL of medium: of the litre, 775 are left for this cup of 450 mL."""
    Technique.objects.update(coverage=1000)
    board = make_surface(name="Board", depth=None, sides_painted=False)
    make_lot(material=board)
    clear = make_recipe(parts=[(part(mix, "Medium"), 1), (part(mix, "Tap water"), 1)])
    plan = make_plan(planned_line(board, 1, mix.recipe.makes, clear.recipe.makes))
    alone = fill(owner, mix, {"Paint": "400 g"}, wanted="450 ml").context["filled"]
    assert (added(alone.next)["Medium"], alone.next.short) == ((800, 1200), [])
    planned = fill(owner, mix, {"Paint": "400 g"}, wanted="450 ml", plan=plan.pk)
    (short,) = planned.context["filled"].next.short
    assert (short.material.name, short.quantity) == ("Medium", 25 * G)
    assert planned.context["filled"].ways[1].short == []
    enough = fill(owner, mix, {"Paint": "130 g"}, wanted="450 ml", plan=plan.pk)
    assert "Stock still suffices for the whole plan" in text_of(enough)
    page = as_user(owner).get(reverse("inventory:plan", args=[plan.pk])).content.decode()
    assert f"plan={plan.pk}" in page.partition("Fill this cup")[0].rpartition("<a ")[2]


def test_a_reading_that_falls_is_refused_at_its_field(owner: User, mix: RecipeVersion) -> None:
    response = fill(owner, mix, {"Paint": "46 g", "Medium": "45 g"})
    assert response.status_code == 422
    assert list(response.context["form"].errors) == [f"shows_{part(mix, 'Medium').pk}"]


@pytest.mark.parametrize(
    ("field", "text"), [("wanted", ""), ("wanted", "a lot"), ("empty", "12 ml"), ("room", "wide")]
)
def test_what_cannot_be_read_is_said_at_its_field(
    owner: User, mix: RecipeVersion, field: str, text: str
) -> None:
    response = fill(owner, mix, {}, **{field: text})
    assert response.status_code == 422
    assert list(response.context["form"].errors) == [field]


def test_without_densities_it_goes_by_volume_and_a_sample_can_be_weighed(
    owner: User, mix: RecipeVersion
) -> None:
    Material.objects.filter(name="Medium").update(density=None)
    response = fill(owner, mix, {"Paint": "46 ml"})
    assert added(response.context["filled"].next) == {"Medium": (92, 138), "Tap water": (46, 184)}
    assert reverse("inventory:material-density", args=[part(mix, "Medium").pk]) in response.content.decode()


def test_it_writes_nothing_and_asks_no_more_for_more_boards(owner: User, mix: RecipeVersion) -> None:
    Technique.objects.update(coverage=1000)
    boards = [make_surface(name=f"Board {n}", depth=None, sides_painted=False) for n in range(4)]
    small, large = (
        make_plan(*[planned_line(board, 1, mix.recipe.makes) for board in some], name=f"Set {len(some)}")
        for some in (boards[:1], boards)
    )
    before, counts = Posting.objects.count(), []
    for plan in (small, large):
        with CaptureQueriesContext(connection) as queries:
            assert fill(owner, mix, {"Paint": "46 g"}, plan=plan.pk).status_code == 200
        counts.append(len(queries))
    assert counts[1] <= counts[0]
    assert Posting.objects.count() == before


def test_a_program_asks_the_same(owner: User, mix: RecipeVersion) -> None:
    program = Program(owner)
    body = {"recipe": mix.recipe_id, "wanted": "160 ml", "empty": "12 g", "room": "500 ml"}
    shown = [{"material": part(mix, "Paint").pk, "shows": "58 g"}]
    answer = program.post("cup-filling/", body | {"shown": shown})
    assert answer.status_code == 200, answer.content
    found = answer.json()
    assert [each["shows"]["amount"] for each in found["next"]["added"]] == [150 * G, 196 * G]
    assert [each["scale_shows"]["amount"] for each in found["cup"]["parts"]] == [40 * G, 120 * G, 160 * G]
    assert (found["near_enough"], found["ways"], found["next"]["short"]) == (False, [], [])
    other = [{"material": make_material().pk, "shows": "58 g"}]
    refused = program.post("cup-filling/", body | {"shown": other})
    assert refused.status_code == 400
