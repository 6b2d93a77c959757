"""What a comparison shows: it names no winner where chance may be the reason, and says what it would take."""

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise, permutations
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from inventory.comparisons.calculations.blinding import LETTERS, codes, scoring_order
from inventory.comparisons.calculations.designs import Block, can_show, williams_square
from inventory.comparisons.calculations.power import (
    CHI_SQUARED_20,
    Spread,
    pours_needed,
    smallest_found,
    spread_of,
)
from inventory.comparisons.calculations.verdicts import Finding, Verdict, judge
from inventory.errors import InventoryError

POINT = [Fraction(1)]


def block(*arms: Sequence[float]) -> Block:
    numbers = tuple(number for number, scores in enumerate(arms) for _score in scores)
    return Block(numbers, (tuple(Fraction(score) for scores in arms for score in scores),))


def only(blocks: Sequence[Block], *, is_fair: bool = True) -> Verdict:
    [verdict] = judge(blocks, POINT, is_fair=is_fair).verdicts
    return verdict


def test_a_clear_difference_is_shown() -> None:
    verdict = only([block([8, 9, 8, 9], [5, 6, 5, 6])])
    assert (verdict.finding, verdict.higher, verdict.difference) == (Finding.SHOWS, 0, Fraction(3))
    assert verdict.p == Fraction(1, 35)


def test_a_likely_difference_is_only_leant_towards() -> None:
    assert only([block([7, 8, 6, 8], [5, 6, 6, 4])]).finding == Finding.LEANS


def test_an_unfair_comparison_never_shows_anything() -> None:
    assert only([block([8, 9, 8, 9], [5, 6, 5, 6])], is_fair=False).finding == Finding.MAY_BE_OTHER
    alike = [block([7, 6.5, 7, 7.5], [7, 7, 6.5, 7])]
    assert only(alike).finding == Finding.ALIKE
    assert only(alike, is_fair=False).finding == Finding.CANNOT_TELL


def test_where_the_data_cannot_tell_it_says_how_many_more_pours_would_do() -> None:
    verdict = only([block([5, 7, 9], [6, 6, 7])])
    assert verdict.finding == Finding.CANNOT_TELL
    variance = Fraction(8 + Fraction(2, 3), 4)
    assert verdict.more == pours_needed(Fraction(1), variance) - 3
    assert verdict.at_most is not None
    assert verdict.at_most > (verdict.more or 0)


def test_one_pour_of_each_tells_nothing() -> None:
    verdict = only([block([9], [2])])
    assert (verdict.finding, verdict.p, verdict.more) == (Finding.ONE_EACH, None, None)


def test_three_arms_and_two_criteria_are_judged_by_pairs() -> None:
    arms = (0, 0, 0, 1, 1, 1, 2, 2, 2)
    wet = tuple(map(Fraction, (8, 7, 9, 6, 7, 5, 4, 5, 5)))
    found = judge([Block(arms, (wet, wet[::-1]))], POINT * 2, is_fair=True)
    assert len(found.verdicts) == 6
    shown = {(v.criterion, v.higher, v.lower) for v in found.verdicts if v.finding == Finding.SHOWS}
    assert shown == {(0, 0, 2), (1, 2, 0)}
    assert found.can_show
    assert found.is_exact


@pytest.mark.parametrize(
    ("counts", "expected"), [((3, 3), False), ((4, 4), True), ((2, 2, 2), False), ((3, 3, 3), True)]
)
def test_before_pouring_it_knows_which_plans_can_show_nothing(
    counts: tuple[int, ...], expected: bool
) -> None:
    assert can_show([block(*([0] * count for count in counts))]) is expected


def test_pours_needed_by_the_difference_that_matters() -> None:
    ratios = ("3", "2.5", "2", "1.5", "1.25", "1")
    assert [pours_needed(Fraction(ratio), Fraction(1)) for ratio in ratios] == [4, 5, 6, 9, 12, 17]
    leaning = [pours_needed(Fraction(ratio), Fraction(1), leaning=True) for ratio in ratios]
    assert leaning == [3, 3, 4, 5, 7, 10]
    assert pours_needed(Fraction(1), Fraction(4)) == 65
    assert pours_needed(Fraction(1), Fraction(0)) == 4


@given(st.fractions(Fraction(1, 4), 4), st.fractions(Fraction(1, 4), 4))
def test_a_smaller_difference_never_takes_fewer_pours(a: Fraction, b: Fraction) -> None:
    small, large = sorted((a, b))
    assert pours_needed(small, Fraction(1)) >= pours_needed(large, Fraction(1))


def test_a_spread_from_few_pours_is_taken_with_caution() -> None:
    for freedom, value in enumerate(CHI_SQUARED_20, start=1):
        assert float(value) == pytest.approx(stats.chi2.ppf(0.2, freedom), abs=1e-4)
    assert Spread(Fraction(2), 1).cautious_variance > 30 * 2 / 2
    assert Spread(Fraction(2), 8).cautious_variance == 2


def test_the_spread_is_that_of_like_pours() -> None:
    assert spread_of([block([5, 7], [1, 3]), block([9, 9], [2])]) == Spread(Fraction(4, 3), 3)
    # One of each in every session: what sessions and arms leave over.
    assert spread_of([block([5], [3]), block([8], [4])]) == Spread(Fraction(1), 1)
    assert spread_of([block([5], [3])]) is None


def test_the_smallest_difference_that_so_few_pours_find() -> None:
    found = [smallest_found(pours, Fraction(1)) for pours in (3, 4, 5, 6, 8, 10, 17)]
    assert found == [None, *(Fraction(tenths, 10) for tenths in (29, 20, 19, 15, 14, 10))]


def test_codes_leave_out_letters_that_are_misread() -> None:
    assert not set("IOQ") & set(LETTERS)
    wet = codes(200, Random(1))
    dry = codes(200, Random(2), taken=wet)
    assert len({*wet, *dry}) == 400
    assert all(len(code) == 2 and set(code) <= set(LETTERS) for code in (*wet, *dry))
    with pytest.raises(InventoryError):
        codes(len(LETTERS) ** 2 - 399, Random(3), taken=[*wet, *dry])


def test_in_a_williams_square_each_arm_follows_each_other_one_as_often() -> None:
    assert williams_square(4) == [[0, 1, 3, 2], [1, 2, 0, 3], [2, 3, 1, 0], [3, 0, 2, 1]]
    for arms in range(2, 8):
        rows = williams_square(arms)
        following = [pair for row in rows for pair in pairwise(row)]
        assert len({following.count(pair) for pair in permutations(range(arms), 2)}) == 1
        assert all(sorted(row) == list(range(arms)) for row in rows)
    with pytest.raises(InventoryError):
        williams_square(1)


@settings(max_examples=50)
@given(st.lists(st.integers(0, 4), min_size=1, max_size=20), st.integers())
def test_every_piece_is_scored_once(arms: list[int], seed: int) -> None:
    assert sorted(scoring_order(arms, Random(seed))) == list(range(len(arms)))
