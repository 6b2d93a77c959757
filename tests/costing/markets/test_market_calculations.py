"""Break-even and margin of safety against published examples, and what a market day comes to by hand.

OpenStax, Principles of Accounting, Volume 2: Managerial Accounting, chapter 3 (sections 3.1 to 3.5).
"""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from costing.markets.calculations import (
    KindSold,
    MarketResult,
    break_even_mix,
    break_even_sales,
    break_even_units,
    expected_cash,
    travel_by_distance,
    wage_of,
)
from tests.making import money


@pytest.mark.parametrize(
    ("price", "variable", "fixed", "units"),
    [
        (100, 20, 18_000, 225),  # Hicks, section 3.2
        (100, 20, 18_000 + 16_000, 425),  # Hicks with a target profit of 16,000
        (35, 20, 3_000, 200),  # haircuts, section 3.2
        (400, 150, 14_000, 56),  # Marshall & Hirito, section 3.2
        (90, 40, 85_000, 1_700),  # Manteo, section 3.5
    ],
)
def test_so_many_units_break_even(price: int, variable: int, fixed: int, units: int) -> None:
    assert break_even_units(money(fixed), money(price - variable)) == units
    assert break_even_sales(money(fixed), money(price), money(price - variable)) == money(units * price)


def test_a_part_of_a_unit_is_a_whole_one() -> None:
    assert break_even_units(money(70), Fraction(money(39), 1)) == 2
    assert break_even_units(money(70), 0) is None
    assert break_even_units(money(70), -1) is None
    assert break_even_sales(money(70), money(100), 0) is None


def test_several_kinds_break_even_in_the_proportion_in_which_they_sell() -> None:
    """West Bros, section 3.4: a mix of 5 : 3 : 2 that contributes 30.75, fixed costs of 145,000.

    The book rounds each to the nearest, 23,577 and 14,146 and 9,431, and is 1.50 short with that; these cover.
    """
    prices, costs, mix = ("6.25", "7.75", "9.25"), ("3.25", "4.50", "6.25"), (5, 3, 2)
    kinds = [
        KindSold("", count, money(price) * count, (money(price) - money(cost)) * count)
        for price, cost, count in zip(prices, costs, mix, strict=True)
    ]
    assert sum(kind.contribution for kind in kinds) == money("30.75")
    assert break_even_mix(money(145_000), kinds) == [23_578, 14_147, 9_431]
    assert break_even_mix(money(1), [KindSold("", 1, money(1), -1)]) is None


@given(
    fixed=st.integers(min_value=0, max_value=10**10),
    kinds=st.lists(st.tuples(st.integers(1, 50), st.integers(-(10**8), 10**9)), min_size=1, max_size=5),
)
def test_the_pieces_that_are_said_to_break_even_cover_the_day(
    fixed: int, kinds: list[tuple[int, int]]
) -> None:
    sold = [KindSold("", count, 0, each * count) for count, each in kinds]
    needed = break_even_mix(fixed, sold)
    if needed is None:
        assert sum(kind.contribution for kind in sold) <= 0
    else:
        assert sum(count * each for count, (_sold, each) in zip(needed, kinds, strict=True)) >= fixed
        if len(sold) == 1:
            assert needed == [sold[0].alone(fixed)]


def day(**change: int) -> MarketResult:
    facts = {
        "cash": money(150), "card": money(100), "tax": 0, "fees": money(2), "cost": money(98), "pitch": money(20),
        "travel": money(10), "wages": money(96), "minutes": 480, "sold": 8,
    }  # fmt: skip
    return MarketResult(**facts | change)


@pytest.mark.parametrize(
    ("sales", "variable", "fixed", "safety", "share"),
    [  # Section 3.5: Jakarta, Fire and Ice; sales, their variable cost, fixed costs
        (400_000, 240_000, 80_000, 200_000, 500_000),
        (900_000, 540_000, 200_000, 400_000, 444_444),
        (420_000, 294_000, 90_000, 120_000, 285_714),
        (225_000, 100_000, 85_000, 72_000, 320_000),  # Manteo: 2,500 units at 90 that cost 40
    ],
)
def test_the_margin_of_safety(sales: int, variable: int, fixed: int, safety: int, share: int) -> None:
    result = day(
        cash=money(sales), card=0, fees=0, cost=money(variable), pitch=money(fixed), travel=0, wages=0
    )
    assert (result.safety, result.safety_share) == (money(safety), share)


def test_what_a_day_comes_to_by_hand() -> None:
    # 250 taken, less 2 of fees and 98 of cost: 150. The day cost 126: 24 of profit. 120 before the wage, over 8 hours.
    result = day()
    assert (result.takings, result.contribution, result.fixed) == (money(250), money(150), money(126))
    assert (result.profit, result.per_hour) == (money(24), money(15))
    assert result.break_even_takings == money(210)  # 126 ÷ (150 ÷ 250)
    assert (result.safety, result.safety_share) == (money(40), 160_000)


def test_a_day_without_hours_or_sales_says_nothing_of_them() -> None:
    assert day(minutes=0).per_hour is None
    nothing = day(cash=0, card=0, fees=0, cost=0)
    assert (nothing.break_even_takings, nothing.safety, nothing.safety_share) == (None, None, None)
    assert nothing.profit == -money(126)


def test_a_kind_alone_needs_so_many() -> None:
    kind = KindSold("Canvas 30", 4, money(180), money(62))
    assert (kind.margin, kind.alone(money(126))) == (money("15.50"), 9)  # 126 ÷ 15.50 = 8.13


def test_travel_hours_and_the_till() -> None:
    assert travel_by_distance(12_500, money("0.45")) == money("5.625")
    assert wage_of(450, money(12)) == money(90)
    assert expected_cash(money(50), money(90), money(4)) == money(136)
