"""Stock turn and slow sellers by themselves."""

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from costing.earnings.calculations import StockTurn, slow_after


def test_stock_turn_is_cost_of_sales_over_average_stock() -> None:
    """300,000 of cost over stock of 20,000 and 30,000: 12 times, 30.4 days each (worked by the formula of OpenStax,
    Principles of Accounting, volume 1, section 10.5; the figures are our own)."""
    found = StockTurn(cost_of_sales=300_000, opening=20_000, closing=30_000, days=365)
    assert found.turn == 12
    assert found.days_in_stock == 30


def test_without_stock_there_is_no_turn_and_without_sales_no_days() -> None:
    assert StockTurn(5, 0, 0, 365).turn is None
    unsold = StockTurn(0, 10, 10, 365)
    assert (unsold.turn, unsold.days_in_stock) == (Fraction(0), None)


def test_too_few_sold_pieces_say_nothing() -> None:
    assert slow_after([1, 2, 3]) is None
    assert slow_after([40, 10, 30, 20]) == 30


@given(st.lists(st.integers(0, 2_000), min_size=4, max_size=60))
def test_three_quarters_were_sold_within_the_limit_and_not_within_a_shorter_one(days: list[int]) -> None:
    limit = slow_after(days)
    assert limit is not None
    assert 4 * sum(each <= limit for each in days) >= 3 * len(days)
    assert 4 * sum(each < limit for each in days) < 3 * len(days)
