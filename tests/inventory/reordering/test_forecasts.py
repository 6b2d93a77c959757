"""Forecasts, held against reference libraries to twelve digits.

Conventions: the size starts at the first use, the interval at the position of the first use counted from 1, the share
of periods with use at 1 or 0 by the first period (statsforecast's; sktime's Croston agrees, its TSB starts elsewhere).
"""

from datetime import date

import pytest

from inventory.errors import InventoryError
from inventory.reordering.calculations.demand import Series
from inventory.reordering.calculations.forecasts import fading, forecast, season, size_and_interval, smoothed
from tests.inventory.reordering.series import DYING, SERA, A, B


@pytest.mark.parametrize(
    ("series", "smoothing", "expected"),
    [  # statsforecast's CrostonClassic and, for equal smoothing, sktime's Croston
        (A, 0.1, 1.0607314064783204),
        (A, 0.2, 1.1193475118728062),
        (A, 0.5, 1.3894736842105264),
        (B, 0.1, 1.4168814432989687),
        (B, 0.2, 1.1865079365079367),
        (B, 0.5, 0.9583333333333334),
        (DYING, 0.1, 3.3613445378151257),
        (DYING, 0.2, 2.9411764705882346),
        (SERA, 0.1, 0.8688921082506834),
        (SERA, 0.2, 0.5345010222520606),
        (SERA, 0.5, 0.6754646269605121),
    ],
)
def test_crostons_forecast_is_that_of_reference_libraries(
    series: Series, smoothing: float, expected: float
) -> None:
    assert size_and_interval(series, smoothing).croston == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("series", "smoothing", "expected"),
    [  # at 0.1 statsforecast's CrostonSBA, whose factor is fixed at 0.95; at 0.2 with the paper's factor
        (A, 0.1, 1.0076948361544042),
        (A, 0.2, 1.0074127606855257),
        (B, 0.1, 1.34603737113402),
        (B, 0.2, 1.067857142857143),
        (DYING, 0.1, 3.193277310924369),
        (DYING, 0.2, 2.6470588235294112),
        (SERA, 0.1, 0.8254475028381492),
        (SERA, 0.2, 0.48105092002685457),
    ],
)
def test_the_corrected_forecast_is_that_of_reference_libraries(
    series: Series, smoothing: float, expected: float
) -> None:
    assert size_and_interval(series, smoothing).corrected == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("series", "size", "share", "expected"),
    [  # statsforecast's TSB
        (A, 0.1, 0.1, 0.9107309950677761),
        (A, 0.2, 0.1, 0.9694434862265581),
        (A, 0.4, 0.05, 0.7706393884687476),
        (B, 0.1, 0.1, 1.3329779212110007),
        (B, 0.2, 0.1, 1.4499696168880007),
        (B, 0.4, 0.05, 2.073147410644031),
        (DYING, 0.1, 0.1, 1.6015293399600004),
        (DYING, 0.4, 0.05, 2.540917710269511),
        (SERA, 0.1, 0.1, 0.015193591597992918),
        (SERA, 0.2, 0.1, 0.011535844751039115),
        (SERA, 0.4, 0.05, 0.10627031262039678),
    ],
)
def test_the_forecast_of_what_dies_out_is_that_of_a_reference_library(
    series: Series, size: float, share: float, expected: float
) -> None:
    assert fading(series, size_smoothing=size, share_smoothing=share) == pytest.approx(expected, rel=1e-12)


def test_croston_follows_a_published_example() -> None:
    """Hyndman & Athanasopoulos, Forecasting: Principles and Practice, 3rd ed., section 13.2: the same series, whose
    smoothings are printed as q = 2.419 and a = 2.484. Run with the printed, rounded constants 0.71 and 0.08 and the
    printed starts 4.17 and 3.52, they are 2.4205 and 2.4705."""
    q = smoothed([4.17, *SERA.used], 0.71)
    starts = [-1, *SERA.periods[:-1]]
    a = smoothed([3.52, *(end - start for start, end in zip(starts, SERA.periods, strict=True))], 0.08)
    assert q == pytest.approx(2.42047, abs=5e-6)
    assert a == pytest.approx(2.47048, abs=5e-6)


def test_the_forecast_suits_the_kind_of_use() -> None:
    assert forecast(A) == size_and_interval(A).corrected
    assert forecast(DYING) < size_and_interval(DYING).corrected / 1.5
    assert forecast(Series.of([10, 11, 9, 10])) == pytest.approx(smoothed([10, 11, 9, 10]))
    assert forecast(Series.of([0, 0])) == 0


def months(*years: list[int], last: date = date(2025, 6, 1)) -> dict[date, int]:
    """Use by month up to the last one."""
    values = [value for year in years for value in year]
    first = last.year * 12 + last.month - len(values)
    return {date(*divmod_month(first + number)): value for number, value in enumerate(values)}


def divmod_month(number: int) -> tuple[int, int, int]:
    year, month = divmod(number, 12)
    return year, month + 1, 1


def test_a_season_is_seen_where_two_years_show_it() -> None:
    year = [10, 10, 10, 40, 60, 80, 10, 10, 10, 10, 10, 10]  # July to June
    factors = season(months(year, [value + 2 for value in year]))
    assert factors is not None
    assert sum(factors) == pytest.approx(12)
    assert factors.index(max(factors)) == 11  # December


@pytest.mark.parametrize(
    "years",
    [
        [[10, 10, 10, 40, 60, 80, 10, 10, 10, 10, 10, 10]],
        [[10, 90, 10, 10, 10, 10, 10, 10, 10, 10, 10, 10], [10, 10, 10, 10, 10, 10, 10, 10, 90, 10, 10, 10]],
        [[10] * 12, [10] * 12],
        [[0] * 12, [10] * 12],
        [],
    ],
)
def test_no_season_is_read_into_one_year_or_into_two_that_differ(years: list[list[int]]) -> None:
    assert season(months(*years)) is None


def test_nothing_cannot_be_smoothed() -> None:
    for values, smoothing in (([], 0.1), ([1.0], 0.0), ([1.0], 1.5)):
        with pytest.raises(InventoryError, match="smooth"):
            smoothed(values, smoothing)
