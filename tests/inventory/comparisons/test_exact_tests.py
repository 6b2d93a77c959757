"""The exact tests give the figures of the textbooks, of another implementation (scipy), and what must hold always."""

from collections.abc import Sequence
from fractions import Fraction
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from inventory.comparisons.calculations import reshuffling
from inventory.comparisons.calculations.agreement import agreement
from inventory.comparisons.calculations.designs import Block, assignments, difference, midranks, smallest_p
from inventory.comparisons.calculations.reshuffling import (
    PairProbability,
    alike_within,
    any_difference,
    pair_probabilities,
    reshuffle,
    trend,
)


def block(*arms: Sequence[float | Fraction]) -> Block:
    """One session: the scores of each arm."""
    numbers = tuple(number for number, scores in enumerate(arms) for _score in scores)
    return Block(numbers, (tuple(Fraction(score) for scores in arms for score in scores),))


def rows(*scores: Sequence[float]) -> list[Block]:
    """Sessions with one pour of each arm."""
    return [block(*([score] for score in row)) for row in scores]


def pairs(differences: Sequence[int]) -> list[Block]:
    return rows(*((score, 0) for score in differences))


def in_midranks(block: Block) -> Block:
    """Scores replaced by their ranks in the session, doubled so that ties (midranks) are whole."""
    return Block(block.arms, tuple(midranks(row) for row in block.scores))


def test_the_sign_test_of_pairs() -> None:
    for differences, p in (([1, 2, 1, 3, 1], Fraction(1, 16)), ([2, 1, 0, 3, -1, 2, 1], Fraction(7, 32))):
        assert any_difference([in_midranks(each) for each in pairs(differences)]) == p
        ups, downs = sum(each > 0 for each in differences), sum(each < 0 for each in differences)
        assert float(p) == pytest.approx(stats.binomtest(ups, ups + downs).pvalue, abs=1e-12)


def test_means_and_ranks_of_pairs() -> None:
    differences = [2, 1, 0, 3, -1, 2, 1]
    assert any_difference(pairs(differences)) == Fraction(1, 8)
    outside = stats.permutation_test(
        (differences,), lambda x, axis: x.sum(axis=axis), permutation_type="samples", n_resamples=10**6
    )
    assert outside.pvalue == pytest.approx(1 / 8)
    # Wilcoxon's: the ranks of the sizes, with their signs.
    sizes = stats.rankdata([abs(each) for each in differences if each])
    signed = [
        int(2 * rank) * (1 if each > 0 else -1)
        for rank, each in zip(sizes, filter(None, differences), strict=True)
    ]
    assert any_difference(pairs(signed)) == Fraction(1, 8)


A, B = [7, 8, 6, 8], [5, 6, 6, 4]


def test_two_arms_in_one_session_by_means_and_by_ranks() -> None:
    two = [block(A, B)]
    assert any_difference(two) == any_difference([in_midranks(each) for each in two]) == Fraction(3, 35)
    outside = stats.permutation_test(
        (A, B), lambda x, y, axis: x.mean(axis=axis) - y.mean(axis=axis), n_resamples=10**6
    )
    assert outside.pvalue == pytest.approx(3 / 35)
    ranked = stats.mannwhitneyu(A, B, method=stats.PermutationMethod(n_resamples=10**6))
    assert ranked.pvalue == pytest.approx(3 / 35)


def test_two_arms_in_several_sessions() -> None:
    assert any_difference([block([8, 7], [5, 6]), block([6, 5], [3, 5])]) == Fraction(1, 9)
    assert any_difference([block([8, 7], [5]), block([6], [4, 5]), block([7], [6])]) == Fraction(1, 18)


def test_several_arms_one_of_each_in_four_sessions() -> None:
    four = rows([7, 5, 6], [8, 6, 6], [6, 5, 7], [9, 4, 6])
    assert any_difference([in_midranks(each) for each in four]) == Fraction(7, 108)
    assert any_difference(four) == Fraction(1, 18)


def test_a_trend_over_ordered_arms() -> None:
    ranked = [in_midranks(each) for each in rows([3, 5, 5], [4, 6, 8], [5, 4, 7])]
    assert trend(ranked, one_sided=True) == Fraction(5, 108)
    assert trend(ranked) >= trend(ranked, one_sided=True)


def test_pairs_of_three_arms_by_the_range() -> None:
    three = [block([8, 7, 9], [6, 7, 5], [4, 5, 5])]
    assert any_difference(three) == Fraction(3, 140)
    outside = stats.permutation_test(
        ([8, 7, 9], [6, 7, 5], [4, 5, 5]),
        lambda a, b, c, axis: sum(x.sum(axis=axis) ** 2 for x in (a, b, c)),
        permutation_type="independent",
        alternative="greater",
        n_resamples=10**6,
    )
    assert outside.pvalue == pytest.approx(3 / 140)
    found, is_exact = pair_probabilities(three)
    assert is_exact
    assert [(each.first, each.second, each.p) for each in found] == [
        (0, 1, Fraction(109, 280)),
        (0, 2, Fraction(3, 140)),
        (1, 2, Fraction(101, 140)),
    ]


def test_wet_and_dry_scores_are_corrected_for_one_another() -> None:
    dry = (6, 7, 7, 8, 6, 7, 5, 6)
    both = [Block((0,) * 4 + (1,) * 4, (tuple(map(Fraction, A + B)), tuple(map(Fraction, dry))))]
    assert [any_difference(both, criterion) for criterion in (0, 1)] == [Fraction(3, 35), Fraction(2, 7)]
    assert [each.p for each in pair_probabilities(both)[0]] == [Fraction(4, 35), Fraction(2, 5)]


def test_good_and_failed_pours_are_fisher_s_exact_test() -> None:
    two = [block([1, 1, 1, 1, 1, 0], [1, 0, 0, 0, 0, 0])]
    assert any_difference(two) == Fraction(37, 462)
    assert stats.fisher_exact([[5, 1], [1, 5]]).pvalue == pytest.approx(37 / 462)


def test_judges_who_agree() -> None:
    agreed = agreement([list(map(Fraction, row)) for row in ([8, 6, 7, 5], [9, 6, 6, 4], [7, 5, 8, 5])])
    assert agreed is not None
    assert agreed.w == Fraction(23, 28)
    assert agreed.p == Fraction(5, 144)
    assert agreement([[Fraction(1)] * 3] * 2) is None


def test_arms_that_are_alike_within_a_point() -> None:
    assert alike_within([block([7, 6.5, 7, 7.5], [7, 7, 6.5, 7])], Fraction(1)) == Fraction(1, 35)


def test_judges_are_averaged_before_anything_is_tested() -> None:
    of_arms = ([[7, 8, 7], [8, 8, 9]], [[6, 6, 7], [5, 7, 6]])
    averaged = [[Fraction(sum(scores), 3) for scores in arm] for arm in of_arms]
    two = [Block((0, 0, 1, 1), (tuple(averaged[0] + averaged[1]),))]
    assert any_difference(two) == Fraction(1, 3)


@pytest.mark.parametrize(
    ("counts", "sessions", "expected"),
    [
        *(((n, n), 1, p) for n, p in zip(range(1, 6), ["1", "1/3", "1/10", "1/35", "1/126"], strict=True)),
        *(((1, 1), n, f"1/{2 ** (n - 1)}") for n in range(1, 7)),
        ((1, 1), 2, "1/2"),
        ((2, 2), 2, "1/18"),
        ((3, 3), 2, "1/200"),
        *(((n,) * 3, 1, p) for n, p in zip(range(1, 4), ["1", "1/15", "1/280"], strict=True)),
        *(((1,) * 3, n, p) for n, p in zip(range(1, 4), ["1", "1/6", "1/36"], strict=True)),
        ((2,) * 4, 1, "1/105"),
        ((1,) * 4, 2, "1/24"),
        ((3, 2), 1, "1/10"),
    ],
)
def test_the_smallest_probability_that_a_plan_can_give(
    counts: tuple[int, ...], sessions: int, expected: str
) -> None:
    plan = [Block(tuple(arm for arm, count in enumerate(counts) for _n in range(count)))] * sessions
    assert smallest_p(plan) == Fraction(expected)
    if assignments(plan) < 3000:
        # The best there can be: every pour of an arm above every pour of the next.
        best = [Block(each.arms, (tuple(Fraction(10**arm) for arm in each.arms),)) for each in plan]
        assert min(any_difference(best), Fraction(1)) >= smallest_p(plan)


def test_the_smallest_probability_of_ordered_arms() -> None:
    for counts, sessions, p in ((1, 1, "1/3"), (2, 1, "1/45"), (1, 2, "1/18"), (1, 3, "1/108")):
        plan = [Block(tuple(arm for arm in range(3) for _n in range(counts)))] * sessions
        assert smallest_p(plan, ordered=True) == Fraction(p)


scores = st.integers(0, 20).map(lambda half: Fraction(half, 2))


@st.composite
def designs(draw: st.DrawFn, *, criteria: int = 1) -> list[Block]:
    """One or two sessions of two or three arms, with a few pours of each: so few that all sums are counted."""
    arms = draw(st.integers(2, 3))
    blocks = []
    for _session in range(draw(st.integers(1, 2))):
        numbers = [arm for arm in range(arms) for _n in range(draw(st.integers(1, 3 if arms == 2 else 2)))]
        rows = [
            draw(st.lists(scores, min_size=len(numbers), max_size=len(numbers))) for _c in range(criteria)
        ]
        blocks.append(Block(tuple(numbers), tuple(map(tuple, rows))))
    return blocks


@settings(max_examples=60, deadline=None)
@given(designs())
def test_no_probability_is_below_one_in_the_number_of_assignments(blocks: list[Block]) -> None:
    for p in (any_difference(blocks), trend(blocks), *(each.p for each in pair_probabilities(blocks)[0])):
        assert Fraction(1, assignments(blocks)) <= p <= 1
    assert any_difference(blocks) >= smallest_p(blocks)
    assert min(each.p for each in pair_probabilities(blocks)[0]) >= smallest_p(blocks)


@settings(max_examples=30, deadline=None)
@given(designs(criteria=2), st.randoms(use_true_random=False))
def test_names_of_arms_and_order_of_pours_do_not_matter(blocks: list[Block], lot: object) -> None:
    arms = max(arm for each in blocks for arm in each.arms) + 1
    renamed = [Block(tuple(arms - 1 - arm for arm in each.arms), each.scores) for each in blocks]
    turned = [Block(each.arms[::-1], tuple(row[::-1] for row in each.scores)) for each in blocks]
    assert any_difference(renamed) == any_difference(turned) == any_difference(blocks)

    def by_pair(found: list[PairProbability], name: dict[int, int]) -> dict[object, Fraction]:
        return {(each.criterion, frozenset((name[each.first], name[each.second]))): each.p for each in found}

    same = {arm: arm for arm in range(arms)}
    back = {arm: arms - 1 - arm for arm in range(arms)}
    assert by_pair(pair_probabilities(renamed)[0], back) == by_pair(pair_probabilities(blocks)[0], same)
    assert by_pair(pair_probabilities(turned)[0], same) == by_pair(pair_probabilities(blocks)[0], same)


@settings(max_examples=40, deadline=None)
@given(designs())
def test_alike_arms_show_a_difference_no_oftener_than_promised(blocks: list[Block]) -> None:
    """Over all ways in which the arms could have fallen, p is at or below any level in no more than that share."""
    only = blocks[:1]
    [row] = only[0].scores
    arms = only[0].arms
    seen: dict[tuple[int, ...], Fraction] = {}
    for places in combinations(range(len(arms)), arms.count(0)):
        rest = iter([arm for arm in arms if arm])
        fallen = tuple(0 if place in places else next(rest) for place in range(len(arms)))
        seen[fallen] = any_difference([Block(fallen, (row,))])
    if len(set(arms)) == 2:  # with two arms these are all the assignments
        for level in set(seen.values()):
            assert sum(p <= level for p in seen.values()) <= level * len(seen)


@settings(max_examples=40, deadline=None)
@given(st.lists(scores, min_size=3, max_size=3), st.lists(scores, min_size=3, max_size=3), st.integers(1, 5))
def test_a_greater_lead_is_never_less_probable_by_chance_alone(
    a: list[Fraction], b: list[Fraction], lead: int
) -> None:
    ahead = [score + max(b) + 1 for score in a]
    further = [score + lead for score in ahead]
    assert any_difference([block(further, b)]) <= any_difference([block(ahead, b)]) == Fraction(1, 10)


def test_criteria_in_which_all_score_alike_show_nothing() -> None:
    flat = [Block((0, 0, 1, 1), ((Fraction(5),) * 4, (Fraction(1), Fraction(2), Fraction(1), Fraction(2))))]
    assert [each.p for each in pair_probabilities(flat)[0]] == [1, 1]


def test_where_there_are_too_many_sums_seeded_draws_come_near(monkeypatch: pytest.MonkeyPatch) -> None:
    two = (block([8, 7, 6, 9], [5, 6, 6, 7], [5, 5, 7, 8]),)
    exact = any_difference(two)
    monkeypatch.setattr(reshuffling, "MOST_SUMS", 10)
    reshuffle.cache_clear()
    drawn = any_difference(two)
    reshuffle.cache_clear()
    assert any_difference(two) == drawn, "the seed makes it the same every time"
    assert drawn.denominator <= reshuffling.DRAWS + 1
    assert abs(drawn - exact) < Fraction(1, 100)
    assert not pair_probabilities(two)[1]
    reshuffle.cache_clear()


def test_a_difference_is_measured_inside_sessions() -> None:
    uneven = [block([9, 8], [7]), block([4], [3, 2])]
    assert difference(uneven, 0, 1) == Fraction(3, 2)
    assert difference(uneven, 1, 0) == -Fraction(3, 2)
