"""The reorder level, worked out by hand for short series and once more in fractions and with scipy for longer ones.

Where no source is named, the figures were worked out apart from our code, in exact fractions, with scipy's gamma
distribution at the end.
"""

from itertools import pairwise

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.stats import gamma

from inventory.reordering.calculations import levels
from inventory.reordering.calculations.demand import Series
from inventory.reordering.calculations.gamma import share_below, value_below_which
from inventory.reordering.calculations.lead_times import LeadTime, exactly, lead_time
from inventory.reordering.calculations.levels import (
    UseUntilDelivery,
    largest_usual_use,
    mark_windows,
    session_size,
    share_of_windows,
    textbook_spread,
    use_until_delivery,
)
from tests.inventory.reordering.series import A, B

MONTHS = Series(
    [5, 6, 19, 33, 34, 35, 60, 74, 75, 99, 100, 117], [40, 60, 80, 20, 100, 50, 90, 30, 70, 120, 40, 55], 120
)
DAILY = Series.of([2, 3, 2, 4, 3] * 8)
GROWING = Series.of([10 + 5 * (day // 100) if day % 10 == 0 else 0 for day in range(500)])
THREE_OR_FIVE = LeadTime(((3, 0.75), (5, 0.25)))


@pytest.fixture
def any_age(monkeypatch: pytest.MonkeyPatch) -> None:
    """Series that are shorter than what a level is made of."""
    monkeypatch.setattr(levels, "LEAST_DAYS", 1)


def rate(series: Series) -> float:
    recent = series.last(365)
    return sum(recent.used) / recent.length


def until_delivery(series: Series, lead: LeadTime) -> UseUntilDelivery:
    until = use_until_delivery(series, lead)
    assert until is not None
    return until


def quantile(until: UseUntilDelivery, service: float) -> float:
    """The level before it is rounded."""
    mean, variance = until.spread.mean, until.spread.variance
    return value_below_which(service, mean**2 / variance) * variance / mean


@pytest.mark.parametrize(
    ("lead", "mean", "variance"),
    [(exactly(3), 103 / 30, 3491 / 900), (THREE_OR_FIVE, 163 / 40, 27493 / 4800)],
)
def test_marks_at_every_past_use_give_what_had_to_last(lead: LeadTime, mean: float, variance: float) -> None:
    windows = mark_windows(A, lead, rate(A))
    assert windows.spread.mean == pytest.approx(mean, rel=1e-12)
    assert windows.spread.variance == pytest.approx(variance, rel=1e-12)
    assert windows.seen == 1


def test_the_textbooks_moments_and_how_far_windows_are_believed() -> None:
    spread = textbook_spread(A, exactly(3), rate(A), session_size(A))
    assert session_size(A) == pytest.approx(4.7, rel=1e-12)
    assert spread.mean == pytest.approx(5.9725, rel=1e-12)
    assert spread.variance == pytest.approx(36.81275, rel=1e-12)
    assert share_of_windows(A, exactly(3), 1.0) == pytest.approx(63 / 193, rel=1e-12)


@pytest.mark.usefixtures("any_age")
@pytest.mark.parametrize(
    ("series", "lead", "mean", "figures"),
    [
        (A, exactly(3), 39709 / 7720, {0.95: 17.525885564}),
        (A, THREE_OR_FIVE, None, {0.90: 14.493637195, 0.95: 19.594202281, 0.98: 26.472819720}),
        (B, exactly(2), 7859 / 2240, {0.95: 12.846181602}),
        (MONTHS, LeadTime(((7, 0.5), (9, 0.3), (14, 0.2))), None, {0.90: 204.374063764, 0.95: 269.438584492}),
        (DAILY, exactly(4), 67217 / 4950, {0.95: 21.725730828}),
        (Series.of([0, 0, 0, 5, 0]), exactly(7), 231 / 20, {0.95: 43.487460131}),  # no window at all
        (GROWING, LeadTime(((7, 0.5), (12, 0.5))), None, {0.95: 73.665094438}),  # scaled windows
    ],
)
def test_levels_are_those_worked_out_apart(
    series: Series, lead: LeadTime, mean: float | None, figures: dict[float, float]
) -> None:
    until = until_delivery(series, lead)
    if mean is not None:
        assert until.spread.mean == pytest.approx(mean, rel=1e-12)
    for service, level in figures.items():
        assert quantile(until, service) == pytest.approx(level, rel=1e-10)
        assert until.level(service) == max(-(-level // 1), largest_usual_use(series))


@pytest.mark.usefixtures("any_age")
def test_windows_of_a_lead_time_without_history_leave_the_rest_their_say() -> None:
    lead = LeadTime(((7, 0.5), (9, 0.3), (14, 0.2)))
    assert session_size(MONTHS) == pytest.approx(80.638451987, rel=1e-10)
    assert mark_windows(MONTHS, lead, rate(MONTHS)).spread.variance == pytest.approx(
        1861.962622390, rel=1e-11
    )
    growing = LeadTime(((7, 0.5), (12, 0.5)))
    assert mark_windows(GROWING, growing, rate(GROWING)).spread.variance == pytest.approx(
        327.548956748, rel=1e-11
    )


@pytest.mark.parametrize(
    ("share", "shape", "value"),
    [(0.95, 0.5, 1.9207294103), (0.98, 2.5, 6.6941112995), (0.90, 20, 25.9025286067)],
)
def test_gamma_quantiles_are_those_of_the_tables(share: float, shape: float, value: float) -> None:
    """Half the chi-squared quantiles with twice the shape as degrees of freedom: 3.8415, 13.388, 51.805."""
    assert value_below_which(share, shape) == pytest.approx(value, abs=5e-11)


@settings(max_examples=60)
@given(st.floats(0.02, 2_000), st.floats(0.5, 0.999))
def test_gamma_quantiles_are_scipys_and_lead_back(shape: float, share: float) -> None:
    value = value_below_which(share, shape)
    assert value == pytest.approx(gamma.ppf(share, shape), rel=1e-10)
    assert share_below(value, shape) == pytest.approx(share, abs=1e-11)


@pytest.mark.parametrize(
    ("facts", "days"),
    [
        ({"stated": 7, "own": [6, 7, 7, 9, 12]}, [5, 6, 7, 7, 8, 9, 11, 12, 12, 12]),
        (
            {"stated": 7, "own": [6, 7, 7, 9, 12], "days_between_checks": 7},
            [6, 8, 9, 11, 12, 13, 14, 15, 17, 18],
        ),
        ({"stated": 10}, [7, 8, 9, 10, 12, 13, 14, 16, 17, 17]),
    ],
)
def test_lead_times_blend_what_is_stated_with_what_deliveries_took(
    facts: dict[str, int], days: list[int]
) -> None:
    shares = [0.1, 0.15, 0.15, 0.15, 0.15, 0.1, 0.08, 0.06, 0.04, 0.02]
    together: dict[int, float] = {}
    for day, share in zip(days, shares, strict=True):
        together[day] = together.get(day, 0.0) + share
    lead = lead_time(**facts)  # type: ignore[arg-type]
    assert dict(lead.points) == pytest.approx(together)


def test_late_suppliers_and_goods_from_abroad_have_the_longer_lead_time() -> None:
    punctual, late = lead_time(10, own=[9, 10, 10, 9]), lead_time(10, own=[9, 10, 30, 41])
    assert late.mean > punctual.mean
    assert late.longest > 30 > punctual.longest
    assert lead_time(10, variation=0.5).longest > lead_time(10).longest
    assert lead_time(10, ratios_of_others=[2.0] * 10).mean > lead_time(10).mean


uses = st.lists(st.integers(0, 50), min_size=20, max_size=120).map(lambda values: Series.of([*values, 5]))
leads = st.integers(1, 30).map(lead_time)


@settings(max_examples=60)
@given(uses, leads)
def test_more_service_takes_more_stock_and_the_level_keeps_what_it_promises(
    series: Series, lead: LeadTime
) -> None:
    until = until_delivery(series, lead)
    asked = [0.6, 0.8, 0.9, 0.95, 0.98, 0.995]
    found = [until.level(service) for service in asked]
    assert all(less <= more for less, more in pairwise(found))
    assert all(until.service(level) >= service - 1e-9 for level, service in zip(found, asked, strict=True))
    assert found[0] >= largest_usual_use(series)


@settings(max_examples=40)
@given(uses, leads, st.integers(2, 10_000))
def test_levels_are_the_same_in_any_unit(series: Series, lead: LeadTime, times: int) -> None:
    finer = Series(series.periods, [used * times for used in series.used], series.length)
    coarse, fine = (quantile(until_delivery(each, lead), 0.95) for each in (series, finer))
    assert fine == pytest.approx(coarse * times, rel=1e-9)


def test_nothing_used_for_a_year_and_a_first_fortnight_make_no_level() -> None:
    assert use_until_delivery(Series([0], [5], 367), exactly(7)) is None
    assert use_until_delivery(Series.of([1] * 13), exactly(7)) is None
    assert use_until_delivery(Series.of([1] * 14), exactly(7)) is not None


def test_a_guess_stands_in_for_data_and_fades_as_they_come_in() -> None:
    """Guessed at 10 a day, used at 2 a day."""

    def level_after(days: int, guess: float | None = 10.0) -> int:
        series = Series.of([2] * days)
        until = use_until_delivery(series, exactly(7), guess_per_day=guess)
        assert until is not None
        return until.level(0.95)

    levels_then = [level_after(days) for days in (0, 14, 40, 80, 119)]
    assert all(earlier > later for earlier, later in pairwise(levels_then))
    assert levels_then[0] > 7 * 10
    assert level_after(120) == level_after(120, None)
    assert use_until_delivery(Series((), (), 0), exactly(7)) is None


@given(st.lists(st.integers(1, 100), min_size=1, max_size=50))
def test_the_largest_usual_session_leaves_out_one_in_ten(used: list[int]) -> None:
    usual = largest_usual_use(Series.of(used))
    assert usual in used
    assert sum(value > usual for value in used) <= len(used) / 10
    assume(len(used) < 10)
    assert usual == max(used)
