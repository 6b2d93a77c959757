"""How much paint a set takes and how many can be made, against coating arithmetic and the trade's figures."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.errors import InventoryError
from inventory.recipes.calculations import Part, Recipe, expand
from inventory.sessions.calculations import PastPour, Rate, median_rate, most_from_recipes, paint_needed
from studio.values.sizes import Size

ML = 1_000
CM = 1_000
CM2 = 1_000
STARTING = Rate(180, "general rule of thumb")
GLUE, WATER, MEDIUM, PAINT, BLUE = 1, 2, 3, 4, 5


@pytest.mark.parametrize(
    ("depth", "painted", "millilitres"),
    [
        # Six 30 cm squares at 0.18 mL/cm², by arithmetic: faces 6 x 900 cm²; with painted sides 6 x 1,116
        # cm² (18 mm deep) and 6 x 1,356 cm² (38 mm deep).
        (None, False, 972_000),
        (1_800, True, 1_205_280),
        (3_800, True, 1_464_480),
    ],
)
def test_six_squares_need_paint_for_their_faces_and_painted_sides(
    depth: int | None, painted: bool, millilitres: int
) -> None:
    area = Size(30 * CM, 30 * CM, depth).surface_area(painted)
    assert paint_needed(6 * area, 180) == millilitres


def test_a_reserve_is_added_and_run_off_is_not() -> None:
    # 900 cm² at 0.20 mL/cm² is 180 mL however much of it runs off; a tenth in reserve makes it 198 mL.
    assert paint_needed(900 * CM2, 200) == 180 * ML
    assert paint_needed(900 * CM2, 200, reserve=100_000) == 198 * ML


def test_own_history_replaces_the_default_from_the_third_pour_on() -> None:
    pours = [PastPour(190 * ML, 1_000 * CM2), PastPour(300 * ML, 1_000 * CM2)]
    assert median_rate(pours, STARTING) == STARTING
    pours.append(PastPour(105 * ML, 500 * CM2))
    assert median_rate(pours, STARTING) == Rate(210, "your own recent pours (3)")


def test_an_even_number_of_pours_takes_the_middle_of_the_middle_two() -> None:
    pours = [PastPour(rate, CM2) for rate in (150, 251, 180, 900)]
    # 215.5 microlitres, rounded half up.
    assert median_rate(pours, STARTING).value == 216


def test_it_refuses_a_past_pour_without_a_surface() -> None:
    with pytest.raises(InventoryError, match="Correct its record"):
        median_rate([PastPour(1, 0)], STARTING)


# Paint 1 : medium 1, the medium 2 glue : 1 water (common practice, no source).
RECIPES = {MEDIUM: Recipe((Part(GLUE, 2), Part(WATER, 1))), BLUE: Recipe((Part(PAINT, 1), Part(MEDIUM, 1)))}


def test_medium_already_made_lets_more_be_poured() -> None:
    wanted = {BLUE: 200 * ML}
    held: dict[int, int | None] = {PAINT: 1_000 * ML, GLUE: 200 * ML, WATER: None}
    # Each takes 100 paint and 100 medium. 200 glue makes 300 medium: three. 250 more made: five and a half.
    assert most_from_recipes(wanted, RECIPES, held) == 3
    assert most_from_recipes(wanted, RECIPES, {**held, MEDIUM: 250 * ML}) == 5
    assert most_from_recipes(wanted, RECIPES, {**held, MEDIUM: 2_000 * ML}) == 10
    assert most_from_recipes(wanted, RECIPES, {}) == 0


def test_a_plan_of_nothing_but_tap_water_has_no_limit() -> None:
    assert most_from_recipes({WATER: 10}, RECIPES, {WATER: None}) is None


def test_it_refuses_a_surface_of_nothing() -> None:
    with pytest.raises(InventoryError, match="above zero"):
        paint_needed(0, 180)


@given(st.integers(1, 10**8), st.integers(0, 2_000), st.integers(0, 1_000_000))
def test_a_larger_surface_or_reserve_never_needs_less(area: int, rate: int, reserve: int) -> None:
    needed = paint_needed(area, rate, reserve)
    assert needed <= paint_needed(area + 1, rate, reserve)
    assert paint_needed(area, rate) <= needed


@given(st.integers(1, 10**6), st.integers(0, 10**7), st.integers(0, 10**7), st.integers(0, 10**7))
def test_the_most_that_can_be_made_is_covered_and_one_more_is_not(
    each: int, paint: int, glue: int, medium: int
) -> None:
    held: dict[int, int | None] = {PAINT: paint, GLUE: glue, MEDIUM: medium, WATER: None}
    most = most_from_recipes({BLUE: each}, RECIPES, held)
    assert most is not None
    for count, fits in [(most, True), (most + 1, False)]:
        plan = expand({BLUE: each * count}, RECIPES, made_stock={MEDIUM: medium})
        limited = {material: amount for material, amount in held.items() if amount is not None}
        assert all(plan.bought.get(pk, 0) <= amount for pk, amount in limited.items()) is fits
