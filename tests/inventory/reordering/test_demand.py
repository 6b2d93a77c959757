"""Use by day and week, and what kind of use it is."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.errors import InventoryError
from inventory.reordering.calculations.demand import (
    DAYS_READ,
    NO_HISTORY,
    Kind,
    Series,
    average_interval,
    daily_series,
    kind_of,
    squared_variation,
)
from inventory.reordering.calculations.stock_cover import days_of_cover, next_run_out, whole_things
from tests.inventory.reordering.series import SERA, A

TODAY = date(2025, 6, 30)
DAY = timedelta(days=1)


@pytest.mark.parametrize(
    ("series", "interval", "variation", "kind"),
    [
        (A, 20 / 6, 0.2380952381, Kind.INTERMITTENT),
        (SERA, 1.7894736842, 0.8323491023, Kind.LUMPY),  # the open series, counted apart from our code
        (Series.of([10, 11, 9, 10, 10, 11]), 1.0, 0.0045687, Kind.SMOOTH),
        (Series.of([1, 30, 2, 25, 1, 2, 40, 1]), 1.0, 1.41138, Kind.ERRATIC),
    ],
)
def test_use_is_of_the_kind_that_the_published_cut_offs_make_it(
    series: Series, interval: float, variation: float, kind: Kind
) -> None:
    """Syntetos, Boylan & Croston, JORS 56 (2005): interval 1.32, squared coefficient of variation 0.49."""
    assert average_interval(series) == pytest.approx(interval, rel=1e-9)
    assert squared_variation(series) == pytest.approx(variation, rel=5e-3)
    assert kind_of(series) == kind


def test_what_was_never_used_is_of_no_kind() -> None:
    assert kind_of(Series.of([0, 0, 0])) == Kind.NONE


def test_days_run_from_the_first_receipt_to_today_and_days_without_use_count() -> None:
    uses = {TODAY: 600, TODAY - 2 * DAY: 500, TODAY - 9 * DAY: 77_000, TODAY + DAY: 9}
    series = daily_series(uses, on=TODAY, first=TODAY - 4 * DAY)
    assert series.values() == [0, 0, 500, 0, 600]


def test_no_more_than_three_years_are_read() -> None:
    series = daily_series({TODAY - DAYS_READ * DAY: 5, TODAY: 7}, on=TODAY, first=date(2000, 1, 1))
    assert (series.length, list(series.used)) == (DAYS_READ, [7])


def test_without_a_receipt_there_is_no_history() -> None:
    assert daily_series({}, on=TODAY, first=None) == NO_HISTORY
    assert daily_series({}, on=TODAY, first=TODAY + DAY) == NO_HISTORY


def test_days_on_which_there_was_nothing_to_use_are_left_out_unless_something_was_used() -> None:
    uses = {TODAY - 5 * DAY: 4, TODAY - 2 * DAY: 3}
    gone = [TODAY - number * DAY for number in (2, 3, 4, 100)]
    series = daily_series(uses, on=TODAY, first=TODAY - 6 * DAY, out_of_stock=gone)
    assert series.values() == [0, 4, 3, 0, 0]


def test_weeks_end_today_and_begin_with_the_first_full_one() -> None:
    days = Series.of([9, *[1] * 7, 0, 0, 5, 0, 0, 0, 2])
    assert days.by_week() == Series([0, 1], [7, 7], 2)


@given(st.lists(st.integers(0, 9), max_size=60))
def test_a_series_gives_back_its_values_and_its_weeks_add_up(values: list[int]) -> None:
    series = Series.of(values)
    assert series.values() == values
    full = len(values) // 7 * 7
    assert sum(series.by_week().used) == sum(values[len(values) - full :])


def test_a_use_that_is_no_use_or_lies_outside_is_refused() -> None:
    with pytest.raises(InventoryError, match="above zero"):
        Series([0], [-1], 3)
    with pytest.raises(InventoryError, match="outside"):
        Series([3], [1], 3)


def test_cover_counts_whole_days_and_the_run_out_is_the_first_day_not_covered() -> None:
    assert days_of_cover(10_000, 3_000) == 3
    assert next_run_out(TODAY, 10_000, 3_000) == date(2025, 7, 3)
    assert next_run_out(TODAY, 0, 1) == TODAY


def test_what_is_not_being_used_never_runs_out() -> None:
    assert days_of_cover(10, 0) is None
    assert next_run_out(TODAY, 10, 0) is None
    assert next_run_out(TODAY, 10**15, 1) is None


@given(st.integers(0, 10**12))
def test_counted_goods_are_rounded_up_to_a_whole_one(quantity: int) -> None:
    whole = whole_things(quantity)
    assert whole % 1_000 == 0
    assert 0 <= whole - quantity < 1_000
