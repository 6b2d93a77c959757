"""Recipes: written once, changed by new versions, and never in a circle."""

from typing import Any

import pytest

from inventory.errors import InventoryError
from inventory.ledger.models import Books, Lot
from inventory.materials.models import Material
from inventory.recipes.actions.recipes import Parts, refresh_made_from, write_recipe, write_version
from inventory.recipes.calculations import RecipeCycleError
from inventory.recipes.models import Basis, Recipe, RecipeVersion
from inventory.recipes.queries import cost_per_100ml, latest_versions
from studio.errors import InputError
from tests.days import DAY, TODAY
from tests.making import (
    make_batch,
    make_delivery,
    make_lot,
    make_material,
    make_submission,
    make_surface,
    make_water,
    money,
    units,
)

pytestmark = pytest.mark.django_db


def a_mix(name: str, **facts: Any) -> Material:
    return Material(**({"name": name, "kind": "mix", "measure": "volume"} | facts))


def write(name: str, parts: Parts, **facts: object) -> Recipe:
    asked = {"makes": a_mix(f"{name} mixed"), "basis": Basis.VOLUME, **facts}
    return write_recipe(name=name, parts=parts, submission=make_submission(), **asked)  # type: ignore[arg-type]


def the_version(recipe: Recipe) -> RecipeVersion:
    return latest_versions()[recipe.makes_id]


def parts_of(version: RecipeVersion) -> list[tuple[Material, int]]:
    return [(part.material, part.parts) for part in version.parts.all()]


def test_a_recipe_comes_with_its_first_version_and_the_material_it_makes() -> None:
    glue, water = make_material(), make_water()
    recipe = write("House medium", [(glue, 2000), (water, 1000)], makes=a_mix("Medium", keeps_days=30))
    assert (recipe.makes.name, recipe.makes.keeps_days) == ("Medium", 30)
    assert parts_of(the_version(recipe)) == [(glue, 2000), (water, 1000)]


def test_home_made_medium_of_two_parts_glue_and_one_of_water_is_one_third_water() -> None:
    """2 : 1 is common practice (no source); the third follows by arithmetic."""
    recipe = write("House medium", [(make_material(), 2000), (make_water(), 1000)])
    assert recipe.makes.water_share == 333_333


def test_paint_medium_and_water_1_2_1_with_that_medium_is_42_per_cent_water() -> None:
    """(2 × 1/3 + 1) ÷ 4 = 41.67 %, rounded once from 333,333 millionths in the medium."""
    glue, water, paint = make_material(), make_water(), make_material()
    medium = write("House medium", [(glue, 2000), (water, 1000)]).makes
    mixed = write("Teal", [(paint, 1000), (medium, 2000), (water, 1000)])
    assert mixed.makes.water_share == 416_667


def test_masses_and_volumes_add_up_to_the_density_of_the_mix() -> None:
    heavy, light = make_material(density=1_500_000), make_material(density=1_000_000)
    by_volume = write("By volume", [(heavy, 1000), (light, 1000)])
    by_mass = write("By weight", [(heavy, 1000), (light, 1000)], basis=Basis.MASS)
    assert by_volume.makes.density == 1_250_000  # (1.5 + 1.0) ÷ 2
    assert by_mass.makes.density == 1_200_000  # 2 ÷ (1 ÷ 1.5 + 1 ÷ 1.0)


def test_a_density_stays_unknown_while_a_part_has_none() -> None:
    assert write("Teal", [(make_material(density=None), 1000)]).makes.density is None


def test_a_density_measured_later_reaches_everything_made_from_it() -> None:
    paint = make_material(density=None)
    inner = write("Inner", [(paint, 1000)])
    outer = write("Outer", [(inner.makes, 1000)])
    paint.density = 1_300_000
    paint.save()
    refresh_made_from(paint)
    outer.makes.refresh_from_db()
    assert outer.makes.density == 1_300_000


def test_an_unused_version_is_replaced() -> None:
    paint, medium = make_material(), make_material()
    recipe = write("Teal", [(paint, 1000)])
    version = write_version(
        recipe=recipe, parts=[(paint, 1000), (medium, 2000)], basis=Basis.VOLUME, submission=make_submission()
    )
    assert version.number == 1
    assert recipe.versions.count() == 1
    assert parts_of(the_version(recipe)) == [(paint, 1000), (medium, 2000)]


def test_a_used_version_is_never_changed_but_followed_by_a_new_one() -> None:
    paint, medium = make_material(), make_material()
    recipe = write("Teal", [(paint, 1000)])
    make_delivery(lines=[(paint, units(500), money(5))])
    first = make_batch(version=the_version(recipe), quantity=units(100)).version
    second = write_version(
        recipe=recipe, parts=[(paint, 1000), (medium, 1000)], basis=Basis.MASS, submission=make_submission()
    )
    assert (second.number, the_version(recipe)) == (2, second)
    assert parts_of(first) == [(paint, 1000)]


def test_writing_the_same_parts_again_changes_nothing() -> None:
    paint = make_material()
    recipe = write("Teal", [(paint, 1000)])
    before = the_version(recipe)
    assert (
        write_version(recipe=recipe, parts=[(paint, 1000)], basis=Basis.VOLUME, submission=make_submission())
        == before
    )


def test_it_refuses_recipes_that_go_round_in_a_circle_and_names_the_way() -> None:
    paint = make_material()
    teal = write("Teal", [(paint, 1000)])
    mist = write("Mist", [(teal.makes, 1000), (paint, 1000)])
    with pytest.raises(RecipeCycleError, match="Teal mixed needs Mist mixed needs Teal mixed"):
        write_version(
            recipe=teal, parts=[(mist.makes, 1000)], basis=Basis.VOLUME, submission=make_submission()
        )
    with pytest.raises(RecipeCycleError, match="Teal mixed needs Teal mixed"):
        write_version(
            recipe=teal, parts=[(teal.makes, 1000)], basis=Basis.VOLUME, submission=make_submission()
        )
    assert parts_of(the_version(teal)) == [(paint, 1000)]


def test_a_refused_recipe_leaves_nothing_behind() -> None:
    with pytest.raises(InventoryError, match="above zero"):
        write("Teal", [(make_material(), 0)])
    assert not Recipe.objects.exists()
    assert not Material.objects.filter(name="Teal mixed").exists()


def test_it_refuses_what_cannot_be_mixed() -> None:
    paint = make_material()
    for parts, told in (
        ([], "at least one part"),
        ([(make_surface(), 1000)], "measured by count"),
        ([(paint, 1000), (paint, 2000)], "appears twice in this recipe"),
    ):
        with pytest.raises(InventoryError, match=told):
            write("Teal", parts)


def test_it_refuses_to_make_what_is_counted_free_or_made_already() -> None:
    paint = make_material()
    made = write("Teal", [(paint, 1000)]).makes
    for makes, told in (
        (make_surface(), "must be stocked"),
        (make_water(), "must be stocked"),
        (made, "already has a recipe"),
        (a_mix("Board", measure="count"), "by volume or by weight"),
    ):
        with pytest.raises(InventoryError, match=told):
            write("Other", [(paint, 1000)], makes=makes)
    for taken in (a_mix(paint.name), a_mix(" ")):
        with pytest.raises(InputError) as refused:
            write("Other", [(paint, 1000)], makes=taken)
        assert refused.value.field == "name"
    with pytest.raises(InventoryError, match="Another recipe has"):
        write("Teal", [(paint, 1000)], makes=a_mix("Another"))


def test_100_ml_costs_what_its_parts_cost_now() -> None:
    glue, water, paint = make_material(), make_water(), make_material()
    make_delivery(lines=[(glue, units(1000), money(6)), (paint, units(500), money(20))])
    medium = write("House medium", [(glue, 2000), (water, 1000)])
    teal = write("Teal", [(paint, 1000), (medium.makes, 1000)])
    assert cost_per_100ml(the_version(medium)) == 400_002  # 66.667 mL of glue at 0.006 and 33.333 mL of water
    # 50 mL of paint at 0.04, and 50 mL of medium for 33.333 mL of glue
    assert cost_per_100ml(the_version(teal)) == money(2) + 199_998


@pytest.mark.parametrize(("method", "cost"), [("fifo", 500_000), ("fefo", 1_200_000), ("average", 793_443)])
def test_100_ml_costs_what_the_costing_method_draws_next(method: str, cost: int) -> None:
    """50 mL are left of the oldest bottle at 0.004, 2 L of one at 0.006 and 1 L at 0.012 that expires first."""
    Books.objects.update(costing_method=method)
    glue = make_material()
    make_lot(material=glue, quantity=units(50), cost=money("0.20"), on=TODAY - 3 * DAY)
    make_lot(material=glue, quantity=units(2000), cost=money("12.00"), on=TODAY - 2 * DAY)
    soon = make_lot(material=glue, quantity=units(1000), cost=money("12.00"), on=TODAY - DAY)
    Lot.objects.filter(pk=soon.pk).update(best_before=TODAY + DAY)
    found = cost_per_100ml(the_version(write("House medium", [(glue, 1000)])))
    # 50 × 0.004 + 50 × 0.006; 100 × 0.012; 24.20 for 3,050 mL come to 0.7934 for 100 mL
    assert found == cost


def test_100_ml_has_no_cost_while_a_part_was_never_bought() -> None:
    assert cost_per_100ml(the_version(write("Teal", [(make_material(), 1000)]))) is None
