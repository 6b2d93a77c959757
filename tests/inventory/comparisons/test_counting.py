"""Straightening a photo and counting on it: the perspective, the windows, the count and its standard error."""

from collections.abc import Sequence
from fractions import Fraction
from itertools import combinations
from statistics import fmean

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageDraw

from inventory.comparisons.calculations.counting import (
    WINDOWS,
    Mark,
    Windows,
    density,
    mean_and_variance,
    pooled_error,
    root,
    sizes,
    squares_of,
    tally,
    windows_of,
)
from inventory.comparisons.calculations.straightening import (
    Perspective,
    for_pixels,
    in_turn,
    lies_on_its_side,
    perspective,
)
from studio.errors import InputError

SQUARE = [(Fraction(u), Fraction(v)) for u, v in ((0, 0), (1, 0), (1, 1), (0, 1))]
# The ends of the two diameters of a disc in the unit square.
ENDS = [(Fraction(u, 2), Fraction(v, 2)) for u, v in ((1, 0), (2, 1), (1, 2), (0, 1))]
PHOTO = (1600, 1200)
# Each corner near its own corner of the photo: a convex piece, taken at an angle.
angles = st.tuples(*(st.integers(0, 450) for _n in range(8)))


def seen_at(angle: tuple[int, ...]) -> list[tuple[int, int]]:
    a, b, c, d, e, f, g, h = angle
    return [(a, b), (1600 - c, d), (1600 - e, 1200 - f), (g, 1200 - h)]


def exact(points: Sequence[tuple[int, int]]) -> list[tuple[Fraction, Fraction]]:
    return [(Fraction(x), Fraction(y)) for x, y in points]


def solved(corners: list[tuple[int, int]]) -> Perspective:
    """The eight linear equations of four points (Hartley and Zisserman, Multiple View Geometry, section 4.1)."""
    rows: list[list[Fraction]] = []
    for (u, v), (x, y) in zip(SQUARE, corners, strict=True):
        rows.append([Fraction(n) for n in (u, v, 1, 0, 0, 0, -u * x, -v * x, x)])
        rows.append([Fraction(n) for n in (0, 0, 0, u, v, 1, -u * y, -v * y, y)])
    for place in range(8):
        pivot = next(row for row in range(place, 8) if rows[row][place])
        rows[place], rows[pivot] = rows[pivot], rows[place]
        rows[place] = [each / rows[place][place] for each in rows[place]]
        for other in range(8):
            if other != place:
                factor = rows[other][place]
                rows[other] = [a - factor * b for a, b in zip(rows[other], rows[place], strict=True)]
    return tuple(row[8] for row in rows)  # type: ignore[return-value]


def projected(found: Perspective, u: Fraction, v: Fraction) -> tuple[Fraction, Fraction]:
    """Where a point of the piece is in the photo."""
    a, b, c, d, e, f, g, h = found
    below = g * u + h * v + 1
    return (a * u + b * v + c) / below, (d * u + e * v + f) / below


def test_a_known_perspective_is_recovered_exactly() -> None:
    known = (*map(Fraction, (900, 120, 200, 60, 700, 150)), Fraction(1, 5), Fraction(-1, 10))
    corners = [projected(known, u, v) for u, v in SQUARE]  # type: ignore[arg-type]
    assert perspective(corners) == known  # type: ignore[arg-type]


@given(angles)
@settings(max_examples=60)
def test_corners_map_to_corners_as_eight_linear_equations_have_it(angle: tuple[int, ...]) -> None:
    corners = in_turn(seen_at(angle), PHOTO)
    found = perspective(corners)
    assert found == solved(corners)
    assert [projected(found, u, v) for u, v in SQUARE] == exact(corners)


@given(st.tuples(*(st.integers(0, 120) for _n in range(8))))
@settings(max_examples=60)
def test_a_disc_touches_its_square_where_she_tapped(angle: tuple[int, ...]) -> None:
    a, b, c, d, e, f, g, h = angle
    ends = in_turn([(800 + a, b), (1600 - c, 600 + d), (800 - e, 1200 - f), (g, 600 - h)], PHOTO)
    found = perspective(ends, is_round=True)
    assert [projected(found, u, v) for u, v in ENDS] == exact(ends)


def test_pillow_straightens_a_slanted_photo_within_a_hair() -> None:
    """A dot is drawn where the perspective puts it, and is at its own place of the piece afterwards."""
    corners = [(300, 150), (1350, 260), (1500, 1100), (120, 980)]
    found = perspective(corners)
    for u, v in ((0.25, 0.25), (0.8, 0.3), (0.5, 0.9)):
        x, y = (float(each) for each in projected(found, Fraction(u), Fraction(v)))
        photo = Image.new("L", PHOTO, 0)
        ImageDraw.Draw(photo).ellipse((x - 9, y - 9, x + 9, y + 9), fill=255)
        flat = photo.transform((500, 500), Image.Transform.PERSPECTIVE, for_pixels(found, 500, 500))
        left, top, right, bottom = flat.getbbox() or (0, 0, 0, 0)
        assert abs((left + right) / 2 - 500 * u) <= 2
        assert abs((top + bottom) / 2 - 500 * v) <= 2


def test_corners_may_be_tapped_either_way_round_and_the_first_stays_first() -> None:
    clockwise = [(10, 10), (1500, 20), (1490, 1100), (20, 1090)]
    assert in_turn(clockwise, PHOTO) == clockwise
    assert in_turn([clockwise[0], *reversed(clockwise[1:])], PHOTO) == clockwise
    assert in_turn([clockwise[place] for place in (2, 0, 3, 1)], PHOTO) == clockwise[2:] + clockwise[:2]


@pytest.mark.parametrize(
    "corners",
    [
        [(0, 0), (10, 0), (10, 10)],
        [(0, 0), (1700, 0), (1600, 1200), (0, 1200)],
        [(0, 0), (800, 600), (1600, 1200), (0, 1200)],
        [(0, 0), (100, 0), (100, 100), (0, 100)],
        [(0, 0), (1600, 0), (700, 500), (0, 1200)],
        [(5, 5)] * 4,
    ],
)
def test_points_that_bound_no_piece_are_refused(corners: list[tuple[int, int]]) -> None:
    with pytest.raises(InputError) as refused:
        in_turn(corners, PHOTO)
    assert refused.value.field == "corners"


def test_a_photo_taken_from_the_side_is_refused() -> None:
    with pytest.raises(InputError):
        perspective([(700, 0), (720, 0), (1600, 1200), (0, 1200)])


def test_a_piece_that_lies_on_its_side_is_noticed() -> None:
    wide = [(0, 0), (1600, 0), (1600, 1100), (0, 1100)]
    assert lies_on_its_side(wide, height=40_000, width=30_000)
    assert not lies_on_its_side(wide, height=30_000, width=40_000)
    assert not lies_on_its_side(wide, height=30_000, width=30_000)


surfaces = st.tuples(st.integers(4_000, 200_000), st.integers(4_000, 200_000), st.booleans())


@given(surfaces, st.integers(0, 2**31))
@settings(max_examples=150)
def test_four_windows_lie_apart_inside_the_piece_and_away_from_its_edge(
    surface: tuple[int, int, bool], seed: int
) -> None:
    height, width, is_round = surface
    width = height if is_round else width
    windows = windows_of(height=height, width=width, is_round=is_round, seed=seed)
    margin = min(height, width) // 20
    assert len(set(windows.places)) == WINDOWS
    assert windows.squares >= 12
    assert windows.side <= 5_000
    for left, top in windows.places:
        for x, y in ((left + a * windows.side, top + b * windows.side) for a, b in SQUARE):
            if is_round:
                assert (2 * x - width) ** 2 + (2 * y - height) ** 2 <= (width - 2 * margin) ** 2
            assert margin <= x <= width - margin
            assert margin <= y <= height - margin
        assert all(
            abs(left - x) >= windows.side or abs(top - y) >= windows.side
            for x, y in windows.places
            if (x, y) != (left, top)
        )


def test_the_same_seed_draws_the_same_windows_and_every_square_has_its_turn() -> None:
    size = {"height": 30_000, "width": 40_000, "is_round": False}
    drawn = [windows_of(**size, seed=seed) for seed in range(400)]  # type: ignore[arg-type]
    assert drawn[7] == windows_of(**size, seed=7)  # type: ignore[arg-type]
    _side, squares = squares_of(**size)  # type: ignore[arg-type]
    assert {place for windows in drawn for place in windows.places} == set(squares)


def test_known_boards_have_known_windows() -> None:
    """Worked out by hand: 5% off each edge, then a fifth of what is left; of a disc, the squares within it."""
    side, squares = squares_of(height=20_000, width=20_000, is_round=False)
    assert (side, len(squares), min(squares)) == (3_600, 25, (1_000, 1_000))
    side, squares = squares_of(height=20_000, width=20_000, is_round=True)
    assert (side, len(squares), squares[0]) == (3_600, 12, (6_400, 2_800))
    side, squares = squares_of(height=60_000, width=60_000, is_round=False)
    assert (side, len(squares)) == (5_000, 100)


# S. K. Thompson, Sampling, chapter 2: caribou in 15 of 286 strips drawn at random. The printed results are from
# memory; they follow from the data.
CARIBOU = [1, 50, 21, 98, 2, 36, 4, 29, 7, 15, 86, 10, 21, 5, 4]


def test_a_textbook_sample_has_its_printed_mean_and_standard_error() -> None:
    average, variance = mean_and_variance([Fraction(each) for each in CARIBOU], 286)
    assert round(float(average), 4) == 25.9333
    assert round(float(variance), 2) == 58.06
    assert round(float(286 * average)) == 7417
    assert round(float(286 * variance ** Fraction(1, 2))) == 2179


def test_a_count_is_per_100_square_centimetres_with_its_error() -> None:
    """Windows of 4 cm², four of 25: 3, 5, 4 and 8 are 125 per 100 cm². s² = 14/3 per window, times 625."""
    windows = Windows(2_000, 25, ((0, 0), (4_000, 0), (0, 4_000), (4_000, 4_000)))
    found = density(windows, [3, 5, 4, 8])
    assert found.per_100 == 125_000
    assert found.error == round(1000 * (Fraction(21, 25) * Fraction(14, 3) * 625 / 4) ** 0.5)
    assert density(windows, [4, 4, 4, 4]).error == 0


@given(st.lists(st.integers(0, 40), min_size=12, max_size=14))
@settings(max_examples=12)
def test_over_all_draws_the_count_is_right_on_average_and_so_is_its_error(field: list[int]) -> None:
    """Unbiased over every possible sample of four squares (Cochran, Sampling Techniques, theorems 2.1 and 2.4)."""
    drawn = [
        mean_and_variance([Fraction(field[place]) for place in sample], len(field))
        for sample in combinations(range(len(field)), 4)
    ]
    true = Fraction(sum(field), len(field))
    n = len(drawn)
    assert sum(average for average, _v in drawn) / n == true
    assert sum((average - true) ** 2 for average, _v in drawn) / n == sum(v for _a, v in drawn) / n


def test_a_mark_counts_where_its_middle_is_and_once_only() -> None:
    windows = Windows(1_000, 25, ((0, 0), (1_000, 0), (5_000, 5_000), (8_000, 8_000)))
    across_the_border = Mark(900, 500, 1_300, 500)
    on_the_border = Mark(1_000, 10)
    outside = Mark(3_000, 3_000)
    assert tally(windows, [across_the_border, on_the_border, outside, Mark(0, 0)]) == [1, 2, 0, 0]


def test_a_line_across_a_cell_is_its_diameter() -> None:
    assert Mark(0, 0, 300, 400).diameter == 5_000  # 3 mm by 4 mm: 5 mm
    assert Mark(7, 7).diameter is None


def test_sizes_have_the_median_and_quartiles_of_a_reference_library() -> None:
    numpy = pytest.importorskip("numpy")
    values = [2_100, 3_400, 2_900, 8_000, 4_100, 2_500]
    found = sizes(values)
    assert found is not None
    expected = [round(each) for each in numpy.quantile(values, [0.25, 0.5, 0.75])]
    assert [found.lower, found.median, found.upper] == expected
    assert sizes([]) is None
    one = sizes([1_234])
    assert one is not None
    assert (one.lower, one.median, one.upper) == (1_234,) * 3


@given(st.fractions(min_value=0, max_value=10**9))
def test_a_root_is_the_nearest_whole_number(value: Fraction) -> None:
    found = root(value)
    assert Fraction(2 * found - 1, 2) ** 2 <= value or not found
    assert value <= Fraction(2 * found + 1, 2) ** 2


def test_errors_of_several_counts_add_up_in_squares() -> None:
    assert pooled_error([3_000, 4_000]) == 2_500
    assert fmean([pooled_error([900]), 900]) == 900
