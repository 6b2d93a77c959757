"""The paint a technique takes, learned from few pours: check values, and a simulation whose truth is known."""

from collections.abc import Sequence
from math import exp, gamma, log, pi, sqrt
from random import Random
from statistics import fmean

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.errors import InventoryError
from inventory.sessions import paint_per_area
from inventory.sessions.paint_per_area import LATEST_POURS, USUAL_EDGE, PastPour, edge_of, forecasts, learn
from studio.values.sizes import Size

ML = CM = CM2 = 1_000


def square(side: int, millilitres: float) -> PastPour:
    return PastPour(round(millilitres * ML), side * side * CM2, 4 / side)


def round_board(diameter: int, millilitres: float) -> PastPour:
    return PastPour(round(millilitres * ML), round(pi * diameter**2 / 4 * CM2), 4 / diameter)


THREE = [square(30, each) for each in (198, 207, 189)]
SIZES = [square(10, 30), square(20, 84), square(30, 171)]
ROUNDS = [round_board(20, each) for each in (70, 66, 75, 68, 72)]


@pytest.mark.parametrize(
    ("usual", "pours", "edge", "expected"),
    [
        # Worked out beforehand by another program from the same formula: rate, low and high in µL/cm².
        (200, [], USUAL_EDGE, (200.000, 117.589, 340.167)),
        (200, [], 4 / 10, (278.078, 133.594, 578.825)),
        (160, [square(30, 180)], USUAL_EDGE, (185.664, 124.124, 277.715)),
        (220, THREE, USUAL_EDGE, (219.870, 167.841, 288.027)),
        (220, [*THREE, square(30, 420)], USUAL_EDGE, (237.435, 160.120, 352.083)),
        (200, SIZES, 2 / 50 + 2 / 60, (154.417, 108.394, 219.980)),
        (200, SIZES, 4 / 10, (286.220, 210.145, 389.835)),
        (220, ROUNDS, 4 / 20, (225.101, 180.337, 280.977)),
    ],
)
def test_the_figure_and_its_range_agree_with_values_worked_out_beforehand(
    usual: int, pours: Sequence[PastPour], edge: float, expected: tuple[float, float, float]
) -> None:
    learned = learn(usual, pours)
    assert (learned.rate(edge), *learned.bounds(edge)) == pytest.approx(expected, abs=0.002)


def test_the_quantiles_are_those_of_students_t() -> None:
    """Against Simpson's rule over the density, and three-digit tables of t (NIST e-Handbook 1.3.6.7.2, from memory)."""
    quantiles = paint_per_area._T_90
    for freedom, printed in ((4, 1.533), (5, 1.476), (10, 1.372), (20, 1.325), (23, 1.319)):
        assert quantiles[freedom - 4] == pytest.approx(printed, abs=0.0005)
    for freedom, t in enumerate(quantiles, start=4):
        scale = gamma((freedom + 1) / 2) / gamma(freedom / 2) / sqrt(freedom * pi)
        heights = [
            scale * (1 + (t * step / 200) ** 2 / freedom) ** (-(freedom + 1) / 2) for step in range(201)
        ]
        area = heights[0] + heights[-1] + 4 * sum(heights[1:-1:2]) + 2 * sum(heights[2:-1:2])
        assert 0.5 + area * t / 600 == pytest.approx(0.9, abs=1e-6)
    assert len(quantiles) == LATEST_POURS  # 4 degrees of freedom with no pour or one, 23 with twenty


def test_a_square_and_a_round_of_one_side_have_one_edge_and_a_panel_lies_between() -> None:
    assert edge_of(Size(30 * CM, 30 * CM, 1_800)) == pytest.approx(USUAL_EDGE)
    assert edge_of(Size(20 * CM, 20 * CM, round=True)) == pytest.approx(4 / 20)
    assert edge_of(Size(50 * CM, 60 * CM)) == pytest.approx(220 / 3000)  # 220 cm around 3,000 cm²


def test_without_pours_the_techniques_own_figure_stands_for_its_usual_size() -> None:
    estimate = learn(220, []).estimate(USUAL_EDGE)
    assert (estimate.value, estimate.pours) == (220, 0)
    assert estimate.low < 220 < estimate.high


def test_one_odd_pour_moves_the_figure_less_than_it_moves_the_mean() -> None:
    odd = [*THREE, square(30, 420)]
    assert learn(220, odd).rate(USUAL_EDGE) < fmean(pour.rate for pour in odd) - 40


def test_more_pours_of_one_kind_narrow_the_range() -> None:
    widths = []
    for count in (1, 3, 8, 20):
        low, high = learn(200, [square(30, 180 + 9 * (place % 3)) for place in range(count)]).bounds(
            USUAL_EDGE
        )
        widths.append(high / low)
    assert widths == sorted(widths, reverse=True)


def test_many_boards_together_differ_less_than_one_does() -> None:
    learned = learn(200, THREE)
    (low, high), (low_of_ten, high_of_ten) = learned.bounds(USUAL_EDGE), learned.bounds(USUAL_EDGE, 10)
    assert high_of_ten / low_of_ten < high / low


def test_it_refuses_a_past_pour_without_an_amount_or_a_surface() -> None:
    for quantity, area, edge in ((0, 1, 0.1), (1, 0, 0.1), (1, 1, 0.0)):
        with pytest.raises(InventoryError, match="Correct its record"):
            PastPour(quantity, area, edge)
    with pytest.raises(ValueError, match="latest"):
        learn(200, [square(30, 180)] * (LATEST_POURS + 1))


@given(
    st.integers(1, 100_000),
    st.lists(
        st.builds(square, st.integers(3, 300), st.floats(0.1, 100_000)), min_size=0, max_size=LATEST_POURS
    ),
    st.integers(3, 300),
    st.integers(1, 1000),
)
def test_any_pours_give_a_figure_inside_its_range(
    usual: int, pours: list[PastPour], side: int, count: int
) -> None:
    learned = learn(usual, pours)
    low, high = learned.bounds(4 / side, count)
    assert 0 < low < high
    low, high = learned.bounds(4 / side)
    assert low < learned.rate(4 / side) < high


@given(st.permutations(SIZES + ROUNDS))
def test_the_order_of_the_pours_does_not_matter(pours: list[PastPour]) -> None:
    assert learn(200, pours).rate(0.2) == pytest.approx(learn(200, SIZES + ROUNDS).rate(0.2), rel=1e-9)


def root_mean_square(errors: Sequence[float]) -> float:
    return sqrt(fmean(error**2 for error in errors))


def simulated(random: Random, truth: float, count: int) -> list[PastPour]:
    """Pours on 30 × 30 cm that scatter by a fifth around the truth; one in twenty is half as much again or more."""
    rates = [truth * exp(random.gauss(0, 0.2)) for _ in range(count)]
    return [
        square(30, 0.9 * rate * (random.uniform(1.5, 2.5) if random.random() < 0.05 else 1)) for rate in rates
    ]


@pytest.mark.parametrize("count", [1, 2, 3, 5, 8, 12, 20])
def test_where_the_truth_is_known_it_beats_the_techniques_figure_and_the_plain_mean(count: int) -> None:
    """1,000 studios whose truth lies by three tenths around the technique's figure of 0.2 mL/cm²."""
    random = Random(count)
    own_figure, mean, learned = [], [], []
    for _studio in range(1_000):
        truth = 200 * exp(random.gauss(0, 0.3))
        pours = simulated(random, truth, count)
        own_figure.append(log(200 / truth))
        mean.append(log(fmean(pour.rate for pour in pours) / truth))
        learned.append(log(learn(200, pours).rate(USUAL_EDGE) / truth))
    assert root_mean_square(learned) < root_mean_square(mean)
    assert root_mean_square(learned) < root_mean_square(own_figure)


def test_where_size_matters_it_beats_the_mean_of_all_sizes() -> None:
    """Five sizes, the small ones taking more for their area (as edge to the power of 0.6), ten pours in all."""
    random, mean, learned = Random(5), [], []
    for _studio in range(400):
        truth = 200 * exp(random.gauss(0, 0.3))
        pours = []
        for side in [10, 20, 30, 40, 60] * 2:
            rate = truth * (30 / side) ** 0.6 * exp(random.gauss(0, 0.2))
            pours.append(square(side, rate * side * side / 1000))
        for side in (10, 60):
            wanted = truth * (30 / side) ** 0.6
            mean.append(log(fmean(pour.rate for pour in pours) / wanted))
            learned.append(log(learn(200, pours).rate(4 / side) / wanted))
    assert root_mean_square(learned) < root_mean_square(mean) / 2


def test_the_range_holds_about_eight_pours_in_ten() -> None:
    random, inside, asked = Random(80), 0, 0
    for _studio in range(600):
        truth = 200 * exp(random.gauss(0, 0.3))
        *known, following = simulated(random, truth, 9)
        low, high = learn(200, known).bounds(USUAL_EDGE)
        inside, asked = inside + (low <= following.rate <= high), asked + 1
    assert 0.70 <= inside / asked <= 0.90


def test_the_forecasts_get_better_as_pours_come_in() -> None:
    """Each pour is foretold by those before it alone: the first by the technique's own figure."""
    assert forecasts(200, THREE)[0] == pytest.approx(200)
    assert forecasts(200, THREE)[2] == pytest.approx(learn(200, THREE[:2]).rate(USUAL_EDGE))
    random, first, last = Random(7), [], []
    for _studio in range(300):
        pours = simulated(random, 200 * exp(random.gauss(0, 0.3)), 12)
        errors = [
            abs(log(pour.rate / expected))
            for pour, expected in zip(pours, forecasts(200, pours), strict=True)
        ]
        first.append(fmean(errors[:3]))
        last.append(fmean(errors[-3:]))
    assert fmean(last) < fmean(first)
