"""How pours turned out, by technique, size and medium, and month by month."""

from math import sqrt
from typing import Any

import pytest
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from inventory.comparisons.actions.comparisons import open_arms
from inventory.comparisons.calculations.shares import likely_share
from inventory.comparisons.queries.outcomes import Outcomes, judged_pours, outcomes_of
from inventory.materials.models import Kind
from inventory.sessions.models import Pour
from studio.values.allocation import MILLION
from tests.inventory.browsing import as_user, queries, text_of
from tests.inventory.comparisons.boards import Boards, judged_good, make_comparison
from tests.inventory.sessions.test_judging import judge
from tests.inventory.sessions.test_run_off import poured
from tests.making import make_helper, make_material, make_owner, make_submission, make_surface, take_back
from tests.programs import Program

pytestmark = pytest.mark.django_db
PAGE = "inventory:outcomes"


def found() -> Outcomes:
    return outcomes_of(judged_pours())


def judged(outcome: str, **facts: Any) -> Pour:
    return judge(poured(None, **facts), outcome)


def counts(groups: Any) -> dict[Any, tuple[int, int, int]]:
    return {group.key: (group.good, group.seconds, group.failed) for group in groups}


def test_each_technique_has_its_good_its_seconds_and_its_failures_the_most_failures_first() -> None:
    for outcome in ("good", "good", "second", "failed"):
        judged(outcome)
    judged("failed", technique="Swipe")
    poured(None, technique="Dutch pour")  # not judged yet
    groups = found().by_technique
    assert counts(groups) == {"Swipe": (0, 0, 1), "Ring pour": (2, 1, 1)}
    assert [(group.key, group.share) for group in groups] == [("Swipe", MILLION), ("Ring pour", 250_000)]


def test_a_medium_that_fails_more_often_than_another_is_told_apart() -> None:
    glue, bought = (make_material(name=name, kind=Kind.MEDIUM) for name in ("Loft glue", "Slackwater"))
    judged("failed", medium=glue)
    judged("good", medium=glue)
    judged("good", medium=bought)
    judged("good")
    assert counts(found().by_medium) == {"Loft glue": (1, 0, 1), "Slackwater": (1, 0, 0), "": (1, 0, 0)}


def test_sizes_and_months_have_groups_of_their_own() -> None:
    judged("failed", surface=make_surface(height=10_000, width=10_000), days_back=40)
    judged("good")
    assert [group.share for group in found().by_size] == [MILLION, 0]
    assert [group.share for group in found().by_month] == [MILLION, 0]


def test_the_dry_judgement_is_the_one_that_counts() -> None:
    pour = judged("good")
    judge(pour, "failed", "dry")
    [group] = found().by_technique
    assert (group.good, group.failed) == (0, 1)


def test_a_reversed_session_turned_out_no_way() -> None:
    take_back(judged("failed").session.posting)
    assert found().pours == 0


def test_pours_of_a_blind_comparison_count_once_its_arms_are_shown() -> None:
    comparison = make_comparison(judged_good(Boards().pour()), is_blind=True)
    assert found().pours == 0
    open_arms(comparison=comparison, submission=make_submission())
    assert found().pours == comparison.pours.count() > 0


def test_four_of_twenty_lie_between_eight_and_forty_two_percent() -> None:
    """Wilson's limits for 4 of 20, and for none of 10: 0.081 and 0.416; 0 and 0.278 (from memory)."""
    assert [round(share / MILLION, 3) for share in likely_share(4, 20)] == [0.081, 0.416]
    assert [round(share / MILLION, 3) for share in likely_share(0, 10)] == [0.0, 0.278]


@given(of=st.integers(1, 1_000), data=st.data())
def test_what_was_found_lies_as_far_from_each_limit_as_chance_reaches(of: int, data: st.DataObject) -> None:
    """Wilson's limits are the shares p from which the share found is 1.96 standard errors of p away."""
    count = data.draw(st.integers(0, of))
    low, high = (share / MILLION for share in likely_share(count, of))
    assert 0 <= low <= count / of <= high <= 1
    for limit in (low, high):
        if 0 < limit < 1:
            errors = abs(count / of - limit) / sqrt(limit * (1 - limit) / of)
            assert errors == pytest.approx(1.96, abs=0.01 if 0.001 < limit < 0.999 else 0.6)


def test_the_page_says_it_in_figures_and_narrows_to_a_period() -> None:
    judged("failed", technique="Swipe")
    judged("good")
    owner, address = as_user(make_owner()), reverse(PAGE)
    words = text_of(owner.get(address))
    assert "2 judged pours" in words
    assert "1 good, 0 seconds, 1 failed (50%)" in words
    assert "100%" in words
    assert "20.7% to 100%" in words
    assert "Nothing matches" in text_of(owner.get(address, {"first": "2999-01-01"}))


def test_a_helper_reads_it_too_and_an_empty_page_says_how_to_begin() -> None:
    assert "No pour has been judged yet" in text_of(as_user(make_helper()).get(reverse(PAGE)))


def test_the_page_takes_the_same_queries_however_many_pours_there_are() -> None:
    owner, address = as_user(make_owner()), reverse(PAGE)
    glue = make_material(kind=Kind.MEDIUM)
    judged("good", medium=glue)
    queries(owner, address)
    few = queries(owner, address)
    for days_back in (1, 2, 3):
        judged("failed", medium=glue, technique="Swipe", days_back=days_back)
    assert queries(owner, address) == few


def test_programs_read_the_same_groups() -> None:
    judged("failed", technique="Swipe")
    judged("good")
    body = Program(make_owner()).read("outcomes/")
    assert [(group["name"], group["failed"], group["share"]) for group in body["by_technique"]] == [
        ("Swipe", 1, "1.000000"),
        ("Ring pour", 0, "0.000000"),
    ]
    assert body["by_technique"][0]["likely_least"] == "0.206549"
    assert (body["total"]["good"], body["total"]["failed"]) == (1, 1)
