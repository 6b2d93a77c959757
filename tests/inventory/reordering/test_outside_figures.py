"""Levels against figures from outside: the exact bootstrap, textbooks of safety stock, Kaplan and Meier's estimate."""

from collections import Counter
from fractions import Fraction
from itertools import product
from statistics import NormalDist

import pytest

from inventory.reordering.calculations import levels
from inventory.reordering.calculations.demand import (
    Kind,
    Series,
    average_interval,
    kind_of,
    squared_variation,
)
from inventory.reordering.calculations.lead_times import LeadTime, exactly, lead_time, shared_to_the_right
from inventory.reordering.calculations.levels import mark_windows
from tests.backtest.rules import safety_stock, textbook_level
from tests.inventory.reordering.series import A

HISTORY = (0, 0, 0, 2, 5)


def every_run_once(values: tuple[int, ...], length: int) -> Series:
    """A series in which every run of so many of these values comes exactly once: de Bruijn's sequence, by Lyndon words
    (Knuth, The Art of Computer Programming 4A, section 7.2.1.1, from memory)."""
    word, order = [0], len(values)
    sequence: list[int] = []
    while word:
        if length % len(word) == 0:
            sequence += word
        word = (word * length)[:length]
        while word and word[-1] == order - 1:
            word.pop()
        if word:
            word[-1] += 1
    return Series.of([values[place] for place in sequence + sequence[: length - 1]])


def bootstrap(values: tuple[int, ...], days: int) -> dict[int, Fraction]:
    """Use of so many days when each is drawn from the same history: what plain resampling comes to in the end."""
    sums = Counter(map(sum, product(values, repeat=days)))
    return {total: Fraction(count, len(values) ** days) for total, count in sums.items()}


def moments(shares: dict[int, Fraction]) -> tuple[Fraction, Fraction]:
    mean = sum((value * share for value, share in shares.items()), Fraction())
    return mean, sum((value**2 * share for value, share in shares.items()), Fraction()) - mean**2


def quantile(shares: dict[int, Fraction], asked: Fraction) -> int:
    total = Fraction()
    for value in sorted(shares):
        total += shares[value]
        if total >= asked:
            return value
    raise AssertionError


def test_the_exact_bootstrap_is_the_one_worked_out_apart() -> None:
    """Convolutions worked out by hand; of a longer history too."""
    two = bootstrap(HISTORY, 2)
    assert two == {
        0: Fraction(36, 100), 2: Fraction(24, 100), 4: Fraction(4, 100), 5: Fraction(24, 100),
        7: Fraction(8, 100), 10: Fraction(4, 100),
    }  # fmt: skip
    assert moments(two) == (Fraction(14, 5), Fraction(768, 100))
    assert [quantile(two, Fraction(share, 100)) for share in (90, 95)] == [7, 7]
    three = bootstrap(tuple(A.values()), 3)
    assert moments(three) == (Fraction(315, 100), Fraction(103_425, 10_000))
    assert quantile(three, Fraction(95, 100)) == 9


def windows_of(lead: LeadTime, monkeypatch: pytest.MonkeyPatch) -> levels.Spread:
    monkeypatch.setattr(levels, "OLD_ENOUGH_TO_SCALE", 1_000)  # the rate never changed
    longest = max(days for days, _share in lead.points)
    return mark_windows(every_run_once(HISTORY, longest + 1), lead, rate=1.4).spread


def rest_of_session() -> tuple[float, float]:
    """Mean and variance of what is left of the use that a mark falls in (renewal theory)."""
    mean = sum(value**2 for value in HISTORY) / sum(HISTORY) / 2
    return mean, sum(value**3 for value in HISTORY) / sum(HISTORY) / 3 - mean**2


def test_where_every_run_comes_once_the_windows_are_the_exact_bootstraps(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    found, (rest, spread) = windows_of(exactly(2), monkeypatch), rest_of_session()
    assert found.mean == pytest.approx(rest + 2.8, rel=1e-12)
    assert found.variance == pytest.approx(spread + 7.68, rel=1e-12)


def test_a_varying_lead_time_adds_what_the_law_of_total_variance_says(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """L·σd² + d²·σL², the formula of textbooks, when every run of four days comes once. Its first day is the use; the
    shorter window is read at the end of the series too, hence a little off."""
    found, (rest, spread) = windows_of(LeadTime(((1, 0.5), (3, 0.5))), monkeypatch), rest_of_session()
    assert found.mean == pytest.approx(rest + 2 * 1.4, rel=2e-3)
    assert found.variance == pytest.approx(spread + 2 * 3.84 + 1.4**2 * 1, rel=5e-3)


def test_the_textbooks_level_is_that_of_textbooks() -> None:
    """The rule that ours is held against in the back-test must itself be right.

    Taylor, Introduction to Management Science: 30 a day, standard deviation 5, ten days, Z 1.65 (answers 26.1 and 326.1
    from memory). Demand 120 a week, 24, lead time 1.5 weeks, 0.6: inputs of an exercise, worked out by hand.
    """
    assert safety_stock(30, 25, 10, 0, 1.65) == pytest.approx(26.088791, abs=1e-6)
    assert textbook_level(30, 25, 10, 0, 1.65) == pytest.approx(326.1, abs=0.05)
    assert safety_stock(120, 24**2, 1.5, 0.6**2, 1) == pytest.approx(77.768888, abs=1e-6)
    assert textbook_level(120, 24**2, 1.5, 0.6**2, 1.25) == pytest.approx(277.211110, abs=1e-6)
    assert safety_stock(20, 16, 9, 1.5**2, NormalDist().inv_cdf(0.95)) == pytest.approx(53.146847, abs=1e-6)


@pytest.mark.parametrize(
    ("held", "short", "a_year", "deviation", "years", "level"),
    [
        (0.225, 7.5, 1_300, 150, 1 / 12, 190.3369965715624),
        (3.1, 45, 800, 40, 4 / 365, 15.125515371852014),
        (3 / 14, 40, 192, 17.4, 3, 652.9638947041127),
    ],
)
def test_its_reorder_points_are_those_of_the_textbooks_r_q(
    held: float, short: float, a_year: float, deviation: float, years: float, level: float
) -> None:
    """Snyder & Shen, Fundamentals of Supply Chain Theory, 2nd ed., example 5.1 and problems 5.1 and 5.3: r of (r, Q) as
    EOQ with safety stock, where what is held and what is short cost so much a year (figures of stockpyl)."""
    factor = NormalDist().inv_cdf(short / (short + held))
    assert textbook_level(a_year, deviation**2, years, 0, factor) == pytest.approx(level, rel=1e-9)


@pytest.mark.parametrize(
    ("values", "interval", "variation", "kind"),
    [
        (A.values(), 20 / 6, 0.238095, Kind.INTERMITTENT),
        ([10, 10, 10, 10], 1.0, 0.0, Kind.SMOOTH),
        ([1, 1, 1, 10], 1.0, 1.4379, Kind.ERRATIC),
        ([0, 1, 0, 10, 0, 1, 0, 1], 2.0, 1.4379, Kind.LUMPY),
    ],
)
def test_kinds_of_demand_are_those_of_the_paper(
    values: list[int], interval: float, variation: float, kind: Kind
) -> None:
    """Syntetos, Boylan & Croston (2005): cut-offs 1.32 and 0.49; intervals as n/k, variation of the population."""
    series = Series.of(values)
    assert average_interval(series) == pytest.approx(interval, rel=1e-6)
    assert squared_variation(series) == pytest.approx(variation, abs=5e-5)
    assert kind_of(series) == kind


def test_orders_that_are_still_open_count_as_kaplan_and_meier_count_them() -> None:
    """Weeks of remission of 21 patients, some of whom left while well (Freireich et al. 1963, as in Kleinbaum & Klein,
    Survival Analysis, from memory): the share still well after 6, 7, 10, 13, 16, 22 and 23 weeks."""
    seen = Counter([6, 6, 6, 7, 10, 13, 16, 22, 23])
    left = [6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35]
    shares = shared_to_the_right(seen, left)
    assert sum(shares.values()) == pytest.approx(21)

    def still_well(weeks: int) -> float:
        return sum(weight for time, weight in shares.items() if time > weeks) / 21

    found = [round(still_well(weeks), 3) for weeks in (6, 7, 10, 13, 16, 22, 23)]
    assert found == [0.857, 0.807, 0.753, 0.690, 0.627, 0.538, 0.448]


def test_a_late_order_lengthens_the_lead_time_more_than_one_that_came_today() -> None:
    came = lead_time(7, own=[6, 7, 8, 12, 10])
    late = lead_time(7, own=[6, 7, 8, 12], still_open=[10])
    later = lead_time(7, own=[6, 7, 8, 12], still_open=[30])
    assert came.mean < late.mean < later.mean
    assert later.longest == 30
