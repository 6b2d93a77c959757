"""Sharing by largest remainder, and the one rounding rule."""

from decimal import ROUND_HALF_UP, Decimal, localcontext
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.errors import SharingError
from studio.values.allocation import allocate, divide_half_up

wholes = st.integers(min_value=-(10**18), max_value=10**18)
weight_lists = st.lists(st.integers(min_value=0, max_value=10**12), min_size=1, max_size=30).filter(any)


@pytest.mark.parametrize(
    ("total", "weights", "expected"),
    [
        # OpenStax, Contemporary Mathematics, "Apportionment Methods" (m00028): 70 lights over 15, 9 and 10
        # acres, quotas 30.88, 18.53, 20.59. The book's warning: rounding each by itself gives 71.
        (70, [15, 9, 10], [31, 18, 21]),
        # The same: 27 aircraft, lower quotas 5, 5, 2, 6, 3, 3 with three left to give.
        (27, [13, 12, 5, 16, 7, 9], [6, 5, 2, 7, 3, 4]),
        # The same: 616 schools. The book prints 87, 424, 1, 31, 73 because it gives every party at least one
        # seat; money must not, so this is the plain method, as run with apportionment 1.0 ("hamilton").
        (616, [46310, 224230, 20, 16560, 38450], [88, 424, 0, 31, 73]),
        # Run with apportionment 1.0, method "hamilton".
        (10, [47000, 16000, 15900, 12000, 6000, 3100], [5, 2, 1, 1, 1, 0]),
    ],
)
def test_it_shares_as_the_textbook_does(total: int, weights: list[int], expected: list[int]) -> None:
    assert allocate(total, weights) == expected


def test_a_larger_whole_may_give_one_party_less() -> None:
    # The Alabama paradox of this method, run with apportionment 1.0: 10 seats, then 11, over 6, 6 and 2.
    assert allocate(10, [6, 6, 2]) == [4, 4, 2]
    assert allocate(11, [6, 6, 2]) == [5, 5, 1]


def test_a_hundred_over_three_equal_lines_gives_the_odd_penny_to_the_first() -> None:
    assert allocate(10_000, [1, 1, 1]) == [3334, 3333, 3333]


def test_home_made_medium_of_two_to_one_is_200_and_100_of_300_millilitres() -> None:
    # Two parts of glue to one of water: common practice, no source.
    assert allocate(300_000, [2, 1]) == [200_000, 100_000]


def test_a_weight_of_zero_gets_nothing() -> None:
    assert allocate(7, [0, 1, 0]) == [0, 7, 0]


@given(total=wholes, weights=weight_lists)
def test_shares_add_up_and_each_lies_within_one_of_its_exact_quota(total: int, weights: list[int]) -> None:
    shares = allocate(total, weights)
    assert sum(shares) == total
    for amount, weight in zip(shares, weights, strict=True):
        assert abs(amount - Fraction(total * weight, sum(weights))) < 1


@given(total=st.integers(min_value=0, max_value=10**18), weights=weight_lists)
def test_a_heavier_weight_never_gets_the_smaller_share(total: int, weights: list[int]) -> None:
    ranked = sorted(zip(weights, allocate(total, weights), strict=True))
    amounts_by_weight: dict[int, list[int]] = {}
    for weight, amount in ranked:
        amounts_by_weight.setdefault(weight, []).append(amount)
    groups = list(amounts_by_weight.values())
    assert all(max(lighter) <= min(heavier) for lighter, heavier in pairwise(groups))
    assert all(max(equal) - min(equal) <= 1 for equal in groups)


@given(total=wholes, weights=weight_lists)
def test_a_negative_whole_is_shared_as_the_mirror_image(total: int, weights: list[int]) -> None:
    assert allocate(-total, weights) == [-amount for amount in allocate(total, weights)]


@pytest.mark.parametrize("weights", [[], [0, 0], [3, -1]])
def test_it_refuses_weights_that_cannot_share(weights: list[int]) -> None:
    with pytest.raises(SharingError, match="at least one weight above zero"):
        allocate(10, weights)


@given(numerator=wholes, denominator=st.integers(min_value=1, max_value=10**6))
def test_division_rounds_as_the_decimal_library_rounds_half_up(numerator: int, denominator: int) -> None:
    # 60 digits hold every quotient here far enough that no false half can appear.
    with localcontext() as context:
        context.prec = 60
        expected = (Decimal(numerator) / denominator).quantize(Decimal(1), rounding=ROUND_HALF_UP)
    assert divide_half_up(numerator, denominator) == int(expected)


def test_halves_go_away_from_zero() -> None:
    assert [divide_half_up(number, 2) for number in (1, 3, -1, -3)] == [1, 2, -1, -2]


@pytest.mark.parametrize("denominator", [0, -1])
def test_it_refuses_a_divisor_that_is_not_positive(denominator: int) -> None:
    with pytest.raises(SharingError, match="positive divisor"):
        divide_half_up(1, denominator)
