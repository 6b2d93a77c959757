"""How much paint a set takes and how many can be made, against coating arithmetic and the trade's figures."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.errors import InventoryError
from inventory.sessions.calculations import paint_needed
from studio.values.sizes import Size

ML = 1_000
CM = 1_000
CM2 = 1_000


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


def test_it_refuses_a_surface_of_nothing() -> None:
    with pytest.raises(InventoryError, match="above zero"):
        paint_needed(0, 180)


@given(st.integers(1, 10**8), st.integers(0, 2_000), st.integers(0, 1_000_000))
def test_a_larger_surface_or_reserve_never_needs_less(area: int, rate: int, reserve: int) -> None:
    needed = paint_needed(area, rate, reserve)
    assert needed <= paint_needed(area + 1, rate, reserve)
    assert paint_needed(area, rate) <= needed
