"""The textbook's formula that the back-test measures against, held to textbooks itself."""

from math import sqrt
from statistics import NormalDist

import pytest

from tests.backtest.rules import safety_stock, textbook_level


@pytest.mark.parametrize(
    ("service", "quantile"),
    [
        # Standard normal quantiles as given by scipy 1.17.1 (scipy.stats.norm.ppf).
        (0.800, 0.8416212335729143),
        (0.900, 1.2815515655446004),
        (0.950, 1.6448536269514722),
        (0.980, 2.0537489106318225),
        (0.999, 3.090232306167813),
    ],
)
def test_a_service_level_becomes_a_normal_quantile(service: float, quantile: float) -> None:
    assert NormalDist().inv_cdf(service) == pytest.approx(quantile, abs=1e-12)


def test_it_solves_the_textbook_reorder_point_with_varying_use() -> None:
    """Inputs from memory of a textbook's example (Taylor, Introduction to Management Science, inventory chapter):
    use 30 a day with deviation 5, lead time 10 days, factor 1.65."""
    assert safety_stock(30, 25, 10, 0, 1.65) == pytest.approx(26.088791, abs=5e-7)
    assert textbook_level(30, 25, 10, 0, 1.65) == pytest.approx(326.088791, abs=5e-7)


def test_it_solves_the_exercise_with_varying_use_and_lead_time() -> None:
    """Inputs from a published exercise: use 120 a week with deviation 24, lead time 1.5 weeks with deviation 0.6."""
    assert safety_stock(120, 24**2, 1.5, 0.36, 1) == pytest.approx(77.768888, abs=5e-7)
    assert textbook_level(120, 24**2, 1.5, 0.36, 1.25) == pytest.approx(277.211110, abs=5e-7)


def test_it_agrees_with_a_reference_library_on_reorder_point_with_safety_stock() -> None:
    """stockpyl 1.0.2 (after Snyder & Shen, Fundamentals of Supply Chain Theory, 2nd ed., example 5.1): use 1,300 a year
    with deviation 150, lead time 1/12 year: r = 190.3369965715624."""
    level = textbook_level(1_300, 150**2, 1 / 12, 0, 1.893793481805079)
    assert level == pytest.approx(190.3369965715624, rel=1e-12)
    assert 150 * sqrt(1 / 12) == pytest.approx(43.30127018922193, rel=1e-12)
