"""A cup that was not mixed as its recipe says is told of, and rounding by scale or measuring cup is not."""

from fractions import Fraction

import pytest
from django.test import Client
from django.urls import reverse

from inventory.materials.models import Kind, Material
from inventory.recipes.actions.mixes import Ingredient, MixFacts, planned
from inventory.recipes.models import Mix, RecipeVersion
from inventory.recipes.proportions import as_written, mixed_as
from studio.accounts.models import User
from tests.inventory.browsing import text_of
from tests.making import make_delivery, make_material, make_recipe, make_session, make_water, money, units
from tests.programs import Program
from tests.tables import table_rows

STEP = 1000


@pytest.mark.parametrize(
    ("parts", "used", "mixed"),
    [
        ((2, 1), (300, 100), [3, 1]),
        ((1, 2, 1), (150, 200, 100), [Fraction(3, 2), 2, 1]),
        ((1, 2, 1), (100, 200, 0), [1, 2, 0]),
        ((1, 1), (100, 130), [1, Fraction(13, 10)]),
        ((2, 1), (200, 100), None),
        ((2, 1), (67, 33), None),  # 100 mL by a cup with lines at whole mL
        ((2, 1), (204, 100), None),  # 2 % are near enough
        ((100, 1), (100, 2), None),  # a step of what is measured by
        ((1, 1), (0, 0), None),
        ((1,), (30,), None),
    ],
)
def test_proportions_are_compared_as_far_as_they_can_be_measured(
    parts: tuple[int, ...], used: tuple[int, ...], mixed: list[int | Fraction] | None
) -> None:
    found = mixed_as(
        [part * 1000 for part in parts],
        [Fraction(part, sum(parts)) for part in parts],
        [amount * 1000 for amount in used],
        [STEP] * len(parts),
    )
    assert found == (None if mixed is None else [part * 1000 for part in mixed])


@pytest.mark.parametrize("total", range(3, 400, 7))
@pytest.mark.parametrize("parts", [(2, 1), (1, 2, 1), (5, 3, 1), (10, 7, 2, 1)])
def test_a_cup_rounded_part_by_part_is_never_off(parts: tuple[int, ...], total: int) -> None:
    exact = [Fraction(total * 1000 * part, sum(parts)) for part in parts]
    rounded = [round(amount / STEP) * STEP for amount in exact]
    plan = [amount / total for amount in exact]
    assert mixed_as([part * 1000 for part in parts], plan, rounded, [STEP] * len(parts)) is None


def test_parts_that_an_additive_by_the_drop_made_large_are_written_small() -> None:
    assert as_written([1_000_000, 2_000_000, 150], largest=2_000_000) == [1000, 2000, 0]
    assert as_written([3000, Fraction(1000, 3)], largest=3000) == [3000, 333]


@pytest.fixture
def medium(db: None) -> RecipeVersion:
    """Two parts of glue and one of water, and glue enough."""
    glue = make_material(name="Loft glue", kind=Kind.MEDIUM)
    make_delivery(lines=[(glue, units(5000), money(20))])
    return make_recipe(parts=[(glue, 2), (make_water(name="Tap water"), 1)], name="Loft medium")


def glue_and_water() -> tuple[Material, Material]:
    return Material.objects.get(name="Loft glue"), Material.objects.get(name="Tap water")


def mixed(version: RecipeVersion, glue: int, water: int) -> Mix:
    """A session of one cup with so many mL of each."""
    parts = zip(glue_and_water(), (glue, water), strict=True)
    facts = MixFacts(version, [Ingredient(material, units(amount)) for material, amount in parts])
    return make_session(mixes=[facts]).mixes.get()


def test_a_cup_off_its_recipe_is_told_on_the_page_of_its_session_and_in_the_row_of_the_mix(
    medium: RecipeVersion, signed: Client
) -> None:
    mix = mixed(medium, 300, 100)
    words = text_of(signed.get(reverse("inventory:session", args=[mix.session_id])))
    assert "Loft medium is off its recipe: 3 : 1 instead of 2 : 1 (Loft glue : Tap water)." in words
    assert "Off its recipe 3 : 1 instead of 2 : 1" in words
    page = signed.get(reverse("inventory:recipe", args=[medium.recipe_id]))
    assert [row["Off its recipe"] for row in table_rows(page, "Off its recipe")] == ["3 : 1 instead of 2 : 1"]


def test_nothing_is_said_of_a_cup_that_is_as_its_recipe_says(medium: RecipeVersion, signed: Client) -> None:
    mix = mixed(medium, 134, 66)  # 200 mL, to the mL
    added = make_session(
        mixes=[MixFacts(medium, [*planned(medium, units(90)), Ingredient(make_water(name="Rain"), units(9))])]
    )
    for session in (mix.session_id, added.pk):
        assert "Off its recipe" not in text_of(signed.get(reverse("inventory:session", args=[session])))
    page = text_of(signed.get(reverse("inventory:recipe", args=[medium.recipe_id])))
    assert "Off its recipe" not in page


def test_programs_read_how_a_mix_is_off_its_recipe(medium: RecipeVersion, owner: User) -> None:
    off, as_written_down = mixed(medium, 300, 100), mixed(medium, 200, 100)
    program = Program(owner)
    found = {each["id"]: each["off_recipe"] for each in program.read("mixes/")["results"]}
    assert found == {off.pk: {"mixed": "3 : 1", "recipe": "2 : 1"}, as_written_down.pk: None}
    session = program.read(f"sessions/{off.session_id}/")
    assert session["mixes"][0]["mix"]["off_recipe"] == {"mixed": "3 : 1", "recipe": "2 : 1"}
