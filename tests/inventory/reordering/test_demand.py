"""Use, safety stock and reordering, against published inventory-control examples and normal quantiles."""

from datetime import date, timedelta
from fractions import Fraction
from math import ceil

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.errors import InventoryError
from inventory.reordering.calculations import (
    NO_HISTORY,
    DatedUse,
    DemandEstimate,
    LeadTime,
    average_daily_use,
    days_of_cover,
    needs_reorder,
    next_run_out,
    reorder_level,
    safety_factor,
    safety_stock,
)

TODAY = date(2025, 6, 30)
UNIT = 1_000


def make_demand(mean: int, deviation: int) -> DemandEstimate:
    """Use a day in whole units, as textbooks give it."""
    return DemandEstimate(Fraction(mean * UNIT), Fraction(deviation * UNIT) ** 2, 30)


def used(days_ago: int, quantity: int) -> DatedUse:
    return DatedUse(TODAY - timedelta(days=days_ago), quantity)


def test_days_without_use_count_in_the_average() -> None:
    uses = [used(0, 3_000), used(4, 1_000), used(4, 1_000), used(10, 99_000)]
    demand = average_daily_use(uses, as_of=TODAY, window_days=10, first_receipt=date(2024, 1, 1))
    # Ten days: 3,000 and 2,000 and eight times nothing. The use of ten days ago lies outside the window.
    assert demand.per_day == 500
    assert demand.daily_variance == Fraction(2_500**2 + 1_500**2 + 8 * 500**2, 9)
    assert demand.days == 10


def test_the_window_starts_no_earlier_than_the_first_receipt() -> None:
    uses = [used(0, 600), used(2, 600), used(3, 5_000)]
    demand = average_daily_use(uses, as_of=TODAY, window_days=90, first_receipt=TODAY - timedelta(days=2))
    assert demand.per_day == 400
    assert demand.days == 3


def test_without_a_receipt_there_is_no_history() -> None:
    assert average_daily_use([], as_of=TODAY, window_days=30, first_receipt=None) == NO_HISTORY
    tomorrow = TODAY + timedelta(days=1)
    assert average_daily_use([], as_of=TODAY, window_days=30, first_receipt=tomorrow) == NO_HISTORY


def test_a_single_day_has_no_spread() -> None:
    demand = average_daily_use([used(0, 700)], as_of=TODAY, window_days=30, first_receipt=TODAY)
    assert demand == DemandEstimate(Fraction(700), Fraction(0), 1)


def test_it_refuses_a_negative_use_and_an_empty_window() -> None:
    with pytest.raises(InventoryError, match="reversed"):
        average_daily_use([used(0, -1)], as_of=TODAY, window_days=30, first_receipt=TODAY)
    with pytest.raises(InventoryError, match="at least one day"):
        average_daily_use([], as_of=TODAY, window_days=0, first_receipt=TODAY)


@pytest.mark.parametrize(
    ("service_level", "quantile"),
    [
        # Standard normal quantiles as given by scipy 1.17.1 (scipy.stats.norm.ppf).
        (800_000, "0.8416212335729143"),
        (900_000, "1.2815515655446004"),
        (950_000, "1.6448536269514722"),
        (975_000, "1.959963984540054"),
        (980_000, "2.0537489106318225"),
        (990_000, "2.3263478740408408"),
        (995_000, "2.5758293035489004"),
        (999_000, "3.090232306167813"),
    ],
)
def test_a_service_level_becomes_a_normal_quantile(service_level: int, quantile: str) -> None:
    assert abs(safety_factor(service_level) - Fraction(quantile)) < Fraction(1, 10**12)


def test_half_the_time_needs_no_safety() -> None:
    assert safety_factor(500_000) == 0


@pytest.mark.parametrize("service_level", [499_999, 1_000_000, 0])
def test_it_refuses_a_service_level_out_of_range(service_level: int) -> None:
    with pytest.raises(InventoryError, match="50%"):
        safety_factor(service_level)


def test_it_refuses_a_negative_factor() -> None:
    with pytest.raises(InventoryError, match="negative"):
        safety_stock(Fraction(-1), make_demand(1, 1), LeadTime(Fraction(1)))


def test_it_solves_the_textbook_reorder_point_with_varying_use() -> None:
    # Inputs from memory of a textbook's example (Taylor, Introduction to Management Science, inventory chapter):
    # use 30 a day with deviation 5, lead time 10 days, factor 1.65. 1.65 x 5 x sqrt(10) = 26.088791 and
    # 326.088791 by arithmetic; rounded up to whole thousandths here. With the exact 95 % quantile:
    # 26.007419.
    demand, lead_time = make_demand(30, 5), LeadTime(Fraction(10))
    safety = safety_stock(Fraction("1.65"), demand, lead_time)
    assert safety == 26_089
    assert reorder_level(demand.per_day, 10, safety) == 326_089
    assert safety_stock(safety_factor(950_000), demand, lead_time) == 26_008


def test_it_solves_the_exercise_with_varying_use_and_lead_time() -> None:
    # Inputs from a published exercise (use 120 a week with deviation 24, lead time 1.5 weeks with
    # deviation 0.6); deviation over the lead time sqrt(1.5 x 24² + 120² x 0.6²) = 77.768888; with factor
    # 1.25 the safety stock is 97.211110 and the reorder point 277.211110 (arithmetic).
    demand = make_demand(120, 24)
    lead_time = LeadTime(Fraction(3, 2), Fraction("0.36"))
    assert safety_stock(Fraction(1), demand, lead_time) == 77_769
    safety = safety_stock(Fraction("1.25"), demand, lead_time)
    assert safety == 97_212
    assert reorder_level(demand.per_day, lead_time.days, safety) == 277_212


def test_it_agrees_with_the_law_of_total_variance_on_our_own_numbers() -> None:
    # By arithmetic: use 20 with deviation 4, lead time 9 with deviation 1.5: 32.310989; at 95 %: 53.146847.
    demand, lead_time = make_demand(20, 4), LeadTime(Fraction(9), Fraction("2.25"))
    assert safety_stock(Fraction(1), demand, lead_time) == 32_311
    assert safety_stock(safety_factor(950_000), demand, lead_time) == 53_147


def test_it_agrees_with_a_reference_library_on_reorder_point_with_safety_stock() -> None:
    # stockpyl 1.0.2 (after Snyder & Shen, Fundamentals of Supply Chain Theory, 2nd ed., example 5.1),
    # order-quantity and safety-stock approximation: use 1,300 a year with deviation 150, lead time 1/12
    # year: r = 190.3369965715624 = 108.333333 + 1.893793481805079 x 43.30127018922193. Years serve as days
    # here.
    demand, lead_time = make_demand(1_300, 150), LeadTime(Fraction(1, 12))
    safety = safety_stock(Fraction("1.893793481805079"), demand, lead_time)
    level = reorder_level(demand.per_day, lead_time.days, safety)
    # Use and safety stock are each rounded up to a whole thousandth.
    assert 190_337 <= level <= 190_338


@pytest.mark.parametrize(
    ("stock", "on_order", "expected"), [(99, 0, True), (100, 0, True), (101, 0, False), (50, 51, False)]
)
def test_it_is_time_to_order_at_the_level_counting_what_is_coming(
    stock: int, on_order: int, expected: bool
) -> None:
    assert needs_reorder(stock, on_order, 100) is expected


def test_cover_counts_whole_days_and_the_run_out_is_the_first_day_not_covered() -> None:
    assert days_of_cover(10_000, Fraction(3_000)) == 3
    assert next_run_out(TODAY, 10_000, Fraction(3_000)) == date(2025, 7, 3)
    assert next_run_out(TODAY, 0, Fraction(1)) == TODAY


def test_what_is_not_being_used_never_runs_out() -> None:
    assert days_of_cover(10, Fraction(0)) is None
    assert next_run_out(TODAY, 10, Fraction(0)) is None
    assert next_run_out(TODAY, 10**15, Fraction(1)) is None


@given(
    st.fractions(0, 10**6, max_denominator=1000),
    st.fractions(0, 10**8, max_denominator=1000),
    st.fractions(0, 200, max_denominator=10),
    st.fractions(0, 50, max_denominator=10),
    st.fractions(0, 4, max_denominator=100),
)
def test_safety_stock_is_the_least_whole_number_that_covers_the_spread(
    mean: Fraction, variance: Fraction, days: Fraction, days_variance: Fraction, factor: Fraction
) -> None:
    safety = safety_stock(factor, DemandEstimate(mean, variance, 30), LeadTime(days, days_variance))
    square = factor**2 * (days * variance + mean**2 * days_variance)
    assert safety**2 >= square
    assert safety == 0 or (safety - 1) ** 2 < square


@given(st.integers(0, 10**7), st.fractions(Fraction(1, 100), 10**5, max_denominator=100))
def test_stock_lasts_its_cover_and_not_a_day_longer(stock: int, per_day: Fraction) -> None:
    cover = days_of_cover(stock, per_day)
    assert cover is not None
    assert cover * per_day <= stock < (cover + 1) * per_day
    assert reorder_level(per_day, cover, 0) == ceil(per_day * cover)
