"""Sizes of surfaces, height before width, and the area that paint has to cover."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.errors import InputError
from studio.values.sizes import LARGEST_SIDE, PI, Size, read_size

NBSP = "\u00a0"
sides = st.integers(min_value=1, max_value=LARGEST_SIDE)
boxes = st.builds(Size, sides, sides, st.none() | sides)
rounds = st.builds(lambda side, depth: Size(side, side, depth, round=True), sides, st.none() | sides)


@pytest.mark.parametrize(
    ("text", "size"),
    [
        ("20 x 20 cm", Size(20_000, 20_000)),
        ("20×30", Size(20_000, 30_000)),
        ("8 x 10 in", Size(20_320, 25_400)),
        ('8" X 10"', Size(20_320, 25_400)),
        ("8 1/2 by 11 inches", Size(21_590, 27_940)),
        ("20x20x1.8 cm", Size(20_000, 20_000, 1_800)),
        ("20 cm x 30 cm x 18 mm", Size(20_000, 30_000, 1_800)),
        ("30 cm round", Size(30_000, 30_000, round=True)),
        ("round 30 cm", Size(30_000, 30_000, round=True)),
        ("Ø 12 in", Size(30_480, 30_480, round=True)),
        ("30 cm round x 18 mm", Size(30_000, 30_000, 1_800, round=True)),
    ],
)
def test_it_reads_sizes_height_first(text: str, size: Size) -> None:
    assert read_size(text) == size


def test_it_reads_a_decimal_comma_where_the_studio_uses_it() -> None:
    assert read_size("29,7 x 21 cm", decimal_comma=True) == Size(29_700, 21_000)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "Please enter a value"),
        ("20 cm", "Give the height, the width"),
        ("20 x 30 x 2 x 1 cm", "at most height, width and depth"),
        ("20 cm x 30", "one unit at the end or one for each"),
        ("20 x cm", "every side a number"),
        ("20 x 30 ml", "not a length"),
        ("20 x 30 in2", "not a length"),
        ("30 x 20 cm round", "one diameter"),
        ("0 x 20 cm", "above zero"),
        ("101 x 1 m", "at most 100 m"),
        ("-5 x 3 cm", "every side a number"),
        ("20,5 x 30 cm", "with a point"),
    ],
)
def test_it_refuses_a_size_it_cannot_read_and_says_why(text: str, message: str) -> None:
    with pytest.raises(InputError, match=message):
        read_size(text)


def test_a_round_size_has_one_diameter() -> None:
    with pytest.raises(InputError, match="one diameter"):
        Size(30_000, 20_000, round=True)


def test_painted_sides_add_to_the_face() -> None:
    # 30 × 30 cm with 18 mm sides: 900 + 4 × 30 × 1.8 = 1,116 cm² (arithmetic of the rectangle).
    size = read_size("30 x 30 x 1.8 cm")
    assert size.face_area() == 900_000
    assert size.surface_area(painted_sides=True) == 1_116_000
    assert size.surface_area(painted_sides=False) == 900_000


def test_the_area_of_a_square_inch_is_exact() -> None:
    # NIST SP 811 App. B.8: square inch = 6.4516 E-04 m² exactly, so 80 in² are 516.128 cm².
    assert read_size("8 x 10 in").face_area() == 516_128


def test_a_circle_has_its_own_area_and_circumference() -> None:
    size = read_size("30 cm round x 1.8 cm")
    assert size.face_area() == round(math.pi * 15**2 * 1000)
    assert size.surface_area(painted_sides=True) == round((math.pi * 15**2 + math.pi * 30 * 1.8) * 1000)


def test_pi_is_good_to_fifteen_digits() -> None:
    assert abs(float(PI) - math.pi) < 1e-15


def test_painted_sides_need_a_depth() -> None:
    with pytest.raises(InputError, match="need a depth"):
        read_size("30 x 30 cm").surface_area(painted_sides=True)


@given(size=boxes | rounds, comma=st.booleans())
def test_typed_sizes_are_read_back_exactly(size: Size, comma: bool) -> None:
    assert read_size(size.typed(decimal_comma=comma), decimal_comma=comma) == size


@given(size=boxes | rounds)
def test_painted_sides_never_lessen_the_surface(size: Size) -> None:
    if size.depth is not None:
        assert size.surface_area(painted_sides=True) >= size.face_area()


@given(
    text=st.text() | st.text(alphabet='0123456789.,/ ½x×*bycmin"ø roundt-\u00a0', max_size=70),
    comma=st.booleans(),
)
def test_any_text_is_either_read_or_refused(text: str, comma: bool) -> None:
    try:
        size = read_size(text, decimal_comma=comma)
    except InputError:
        return
    assert 0 < size.height <= LARGEST_SIDE
    assert 0 < size.width <= LARGEST_SIDE
