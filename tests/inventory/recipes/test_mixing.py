"""Cups, scales and nested recipes, held against the trade's common recipes and against exact proportions."""

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.recipes.calculations import (
    Amount,
    Basis,
    DensityNeededError,
    MixingError,
    Part,
    Recipe,
    RecipeCycleError,
    amounts_for,
    expand,
    total_in_basis,
    water_share,
)
from studio.values.units import Measure

GLUE, WATER, MEDIUM, PAINT, BLUE = 1, 2, 3, 4, 5
ML = 1_000
GRAM = 1_000
WATER_DENSITY = 1_000_000
# Densities read in manufacturers' safety data sheets: PVA emulsion 1.09 g/mL, craft acrylic 1.12 g/mL.
GLUE_DENSITY = 1_090_000
PAINT_DENSITY = 1_120_000

# Two parts of glue to one of water: common practice, no source.
HOME_MADE = (Part(GLUE, 2, GLUE_DENSITY), Part(WATER, 1, WATER_DENSITY, water_share=1_000_000))
POURING_MIX = (
    Part(PAINT, 1, PAINT_DENSITY),
    Part(MEDIUM, 2, water_share=333_333),
    Part(WATER, 1, WATER_DENSITY, water_share=1_000_000),
)


def make_parts(*numbers: int, density: int | None = WATER_DENSITY) -> list[Part]:
    return [Part(material, parts, density) for material, parts in enumerate(numbers, start=1)]


def test_300_ml_of_two_to_one_is_200_and_100() -> None:
    # Common practice, no source; the grams follow from the densities.
    assert amounts_for(300 * ML, HOME_MADE, Basis.VOLUME) == [
        Amount(GLUE, 200 * ML, 218 * GRAM),
        Amount(WATER, 100 * ML, 100 * GRAM),
    ]


def test_a_recipe_by_mass_splits_grams_and_tells_millilitres() -> None:
    assert amounts_for(327 * GRAM, HOME_MADE, Basis.MASS) == [
        Amount(GLUE, 200 * ML, 218 * GRAM),
        Amount(WATER, 109 * ML, 109 * GRAM),
    ]


def test_a_part_without_density_has_no_mass_and_says_so_only_when_asked() -> None:
    amounts = amounts_for(400 * ML, POURING_MIX, Basis.VOLUME)
    assert amounts[1] == Amount(MEDIUM, 200 * ML, None)
    with pytest.raises(DensityNeededError, match="Weigh a measured sample") as refusal:
        amounts[1].counted_by(Measure.MASS)
    assert refusal.value.material == MEDIUM


def test_a_volume_of_a_recipe_by_mass_is_weighed_out_through_the_densities() -> None:
    # 1 g at 2 g/mL and 1 g at 1 g/mL fill 1.5 mL: 300 mL weigh 400 g, halves of which are 100 and 200 mL.
    parts = [Part(1, 1, 2_000_000), Part(2, 1, 1_000_000)]
    total = total_in_basis(300 * ML, Measure.VOLUME, parts, Basis.MASS)
    assert total == 400 * GRAM
    assert [amount.volume for amount in amounts_for(total, parts, Basis.MASS)] == [100 * ML, 200 * ML]


def test_a_mass_of_a_recipe_by_volume_is_measured_out_through_the_densities() -> None:
    # 1 mL at 2 g/mL and 1 mL at 1 g/mL weigh 3 g, so 300 g fill 200 mL.
    parts = [Part(1, 1, 2_000_000), Part(2, 1, 1_000_000)]
    assert total_in_basis(300 * GRAM, Measure.MASS, parts, Basis.VOLUME) == 200 * ML


def test_a_total_already_in_the_recipes_basis_needs_no_density() -> None:
    parts = make_parts(1, 1, density=None)
    assert total_in_basis(5, Measure.VOLUME, parts, Basis.VOLUME) == 5
    with pytest.raises(DensityNeededError):
        total_in_basis(5, Measure.MASS, parts, Basis.VOLUME)


def test_home_made_medium_counts_its_own_water() -> None:
    # Paint 1 : medium 2 : water 1 with a 2 : 1 glue and water medium: (2 x 1/3 + 1) / 4 = 41.67 %
    # (arithmetic).
    amounts = [100 * ML, 200 * ML, 100 * ML]
    share = water_share(POURING_MIX, amounts)
    assert abs(share - Fraction(5, 12) * 1_000_000) <= 1
    assert round(share / 10_000, 2) == 41.67


def test_it_refuses_the_water_share_of_an_empty_cup() -> None:
    with pytest.raises(MixingError, match="mix is empty"):
        water_share(POURING_MIX, [0, 0, 0])


RECIPES = {MEDIUM: Recipe(HOME_MADE), BLUE: Recipe(POURING_MIX)}


def test_a_nested_recipe_expands_to_what_is_bought() -> None:
    plan = expand({BLUE: 400 * ML}, RECIPES)
    # 100 paint, 200 medium = 133.333 glue + 66.667 water, and 100 water of its own.
    assert plan.bought == {PAINT: 100_000, GLUE: 133_333, WATER: 166_667}
    assert plan.to_mix == {BLUE: 400_000, MEDIUM: 200_000}
    assert plan.from_stock == {}


def test_made_stock_is_used_before_more_is_mixed() -> None:
    plan = expand({BLUE: 400 * ML}, RECIPES, made_stock={MEDIUM: 170 * ML, BLUE: 40 * ML})
    # 360 mL to mix: 90 paint, 180 medium of which 170 stand ready, 90 water; the missing 10 are 6.667 +
    # 3.333.
    assert plan.from_stock == {BLUE: 40_000, MEDIUM: 170_000}
    assert plan.to_mix == {BLUE: 360_000, MEDIUM: 10_000}
    assert plan.bought == {PAINT: 90_000, GLUE: 6_667, WATER: 93_333}


def test_made_stock_that_covers_everything_leaves_nothing_to_buy_or_mix() -> None:
    plan = expand({BLUE: 400 * ML}, RECIPES, made_stock={BLUE: 500 * ML})
    assert (plan.bought, plan.from_stock, plan.to_mix) == ({}, {BLUE: 400_000}, {})


def test_stock_of_a_shared_medium_is_spent_once_over_all_that_need_it() -> None:
    red = 6
    recipes = {**RECIPES, red: Recipe((Part(7, 1), Part(MEDIUM, 1)))}
    plan = expand({BLUE: 200 * ML, red: 200 * ML}, recipes, made_stock={MEDIUM: 150 * ML})
    assert plan.from_stock == {MEDIUM: 150_000}
    assert plan.to_mix[MEDIUM] == 50_000


def test_a_part_counted_in_grams_is_needed_in_grams() -> None:
    recipes = {BLUE: Recipe((Part(PAINT, 1, PAINT_DENSITY, Measure.MASS), Part(WATER, 1)))}
    assert expand({BLUE: 200 * ML}, recipes).bought == {PAINT: 112 * GRAM, WATER: 100 * ML}


def test_it_refuses_recipes_that_go_round_in_a_circle_and_names_the_path() -> None:
    recipes = {number: Recipe((Part(needs, 1),)) for number, needs in {1: 2, 2: 3, 3: 4, 4: 2}.items()}
    names = {1: "Harbour blue", 2: "Thin medium", 3: "Thick medium", 4: "Old medium"}
    with pytest.raises(RecipeCycleError) as refusal:
        expand({1: 100}, recipes, names=names)
    path = refusal.value.path
    assert path[0] == path[-1]
    assert sorted(path[1:]) == [2, 3, 4]
    for user, needed in pairwise(path):
        assert recipes[user].parts[0].material == needed
        assert f"{names[user]} needs {names[needed]}" in str(refusal.value)
    assert "Harbour blue" not in str(refusal.value)


def test_a_circle_among_recipes_that_are_not_wanted_does_not_matter() -> None:
    recipes = {BLUE: Recipe(POURING_MIX), 8: Recipe((Part(8, 1),))}
    assert expand({BLUE: 4}, recipes).bought == {PAINT: 1, MEDIUM: 2, WATER: 1}


@pytest.mark.parametrize("parts", [[], [Part(1, 1), Part(1, 2)]])
def test_it_refuses_a_recipe_without_parts_or_with_a_material_twice(parts: list[Part]) -> None:
    with pytest.raises(MixingError):
        amounts_for(100, parts, Basis.VOLUME)


def test_it_refuses_a_negative_total() -> None:
    with pytest.raises(MixingError, match="below zero"):
        amounts_for(-1, HOME_MADE, Basis.VOLUME)


def test_it_refuses_impossible_parts() -> None:
    with pytest.raises(MixingError, match="Leave out"):
        Part(1, 0)
    with pytest.raises(MixingError, match="density"):
        Part(1, 1, 0)
    with pytest.raises(MixingError, match="volume or by mass"):
        Part(1, 1, measure=Measure.COUNT)
    with pytest.raises(MixingError, match="100%"):
        Part(1, 1, water_share=1_000_001)


part_numbers = st.lists(st.integers(1, 10_000), min_size=1, max_size=6)


@given(st.integers(0, 10**9), part_numbers, st.sampled_from(Basis))
def test_the_cups_add_up_to_the_mix_and_keep_the_proportions(
    total: int, numbers: list[int], basis: Basis
) -> None:
    amounts = amounts_for(total, make_parts(*numbers), basis)
    quantities = [amount.counted_by(Measure(basis.value)) for amount in amounts]
    assert sum(quantities) == total
    for quantity, number in zip(quantities, numbers, strict=True):
        assert abs(quantity - Fraction(total * number, sum(numbers))) < 1
