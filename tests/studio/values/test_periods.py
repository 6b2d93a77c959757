"""Months of the calendar."""

from datetime import date

from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from studio.values.periods import months_after


@given(
    day=st.dates(min_value=date(1990, 1, 1), max_value=date(2090, 1, 1)),
    months=st.integers(min_value=-60, max_value=60),
)
def test_months_after_a_day_agree_with_a_library(day: date, months: int) -> None:
    # python-dateutil's relativedelta clips to the end of a shorter month too.
    assert months_after(day, months) == day + relativedelta(months=months)
