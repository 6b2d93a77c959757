"""A comparison from its start to its verdict: what is held, what is scored, and what is refused."""

from datetime import timedelta
from fractions import Fraction
from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction

from inventory.comparisons.actions.comparison_facts import ArmFacts, ComparisonFacts, CriterionFacts
from inventory.comparisons.actions.comparisons import (
    Placement,
    discard,
    finish,
    place_pours,
    start_comparison,
)
from inventory.comparisons.actions.scoring import record_scores
from inventory.comparisons.calculations.facts import Fact
from inventory.comparisons.calculations.likeness import Fairness
from inventory.comparisons.calculations.verdicts import Finding
from inventory.comparisons.models import Comparison, Score
from inventory.comparisons.queries.progress import altered_scores, in_turn, missing_scores, rounds
from inventory.comparisons.queries.recipe_sheet import recipes_of
from inventory.comparisons.queries.results import results_of
from inventory.comparisons.queries.wording import difference_words, statements_of
from inventory.errors import InventoryError
from inventory.ledger.verification import check
from inventory.sessions.actions.corrections import correct_session
from inventory.sessions.models import Stage
from studio.accounts.models import User
from studio.errors import InputError
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from tests.days import TODAY
from tests.inventory.comparisons.boards import Boards, arms_of, give, judged_good, make_comparison, note_hands
from tests.making import make_bookkeeper, make_helper, make_owner, make_submission, take_back

pytestmark = pytest.mark.django_db

CLEAR = ([8, 9, 8, 9], [5, 6, 5, 6])


@pytest.fixture
def boards(db: None) -> Boards:
    return Boards()


def findings(comparison: Comparison) -> list[Finding]:
    return [verdict.finding for _measured, verdict in results_of(comparison).verdicts]


def test_pours_that_differ_in_the_medium_alone_are_fair_once_everything_is_noted(boards: Boards) -> None:
    comparison = make_comparison(boards.pour())
    likeness = results_of(comparison).likeness
    assert likeness.fairness == Fairness.AS_FAR_AS_RECORDED
    assert set(likeness.missing) == {Fact.HANDS, Fact.ORDER}
    note_hands(comparison)
    assert results_of(comparison).likeness.fairness == Fairness.FAIR


def test_one_cup_with_more_water_is_named_with_its_figures(boards: Boards) -> None:
    comparison = make_comparison(boards.pour(more_water=80))
    likeness = results_of(comparison).likeness
    assert likeness.fairness == Fairness.NOT_FAIR
    [difference] = likeness.other
    assert (difference.fact, difference.about) == (Fact.PART, "Sail Loft White: Tap water")
    assert difference.by_arm == {0: Fraction(1, 2), 1: Fraction(9, 10)}
    words = difference_words(difference, {0: "Glue", 1: "Resin"}, Formatter.of(Studio.current()))
    assert "0.5" in words
    assert "0.9" in words


def test_no_winner_is_named_where_another_thing_differed(boards: Boards) -> None:
    comparison = make_comparison(boards.pour(4, more_water=80))
    give(comparison, CLEAR)
    assert findings(comparison) == [Finding.MAY_BE_OTHER]


def test_a_clear_and_fair_difference_is_shown_and_a_small_one_is_not(boards: Boards) -> None:
    shown, unclear = (make_comparison(boards.pour(4), name=name) for name in ("Clear", "Unclear"))
    give(shown, CLEAR)
    assert findings(shown) == [Finding.SHOWS]
    give(unclear, ([5, 9, 6, 7], [6, 8, 5, 6]))
    assert findings(unclear) == [Finding.CANNOT_TELL]
    [statement] = statements_of(results_of(unclear), Formatter.of(Studio.current()))
    [(_measured, verdict)] = results_of(unclear).verdicts
    assert str(verdict.more) in statement.text


def test_sessions_are_compared_inside_themselves_and_one_without_every_arm_is_left_out(
    boards: Boards,
) -> None:
    first, second = boards.pour(2), boards.pour(2, temperature=24, on=TODAY - timedelta(days=2))
    lone = boards.pour(1, temperature=30, on=TODAY - timedelta(days=4))
    comparison = make_comparison(first)
    placements = [
        Placement(comparison.arms.get(name=pour.arm), pour)
        for pour in [*second.pours.all(), *lone.pours.filter(arm="Glue")]
    ]
    place_pours(comparison=comparison, placements=placements, submission=make_submission())
    results = results_of(comparison)
    assert results.is_fair
    assert set(results.likeness.sessions) == {str(first.pk), str(second.pk)}
    assert results.likeness.left_out == [str(lone.pk)]


def test_judges_are_averaged_and_those_who_scored_only_some_are_left_out(boards: Boards) -> None:
    owner, helper = make_owner(), make_helper()
    comparison = make_comparison(boards.pour(4), judges=[owner, helper])
    give(comparison, CLEAR)
    assert findings(comparison) == [Finding.SHOWS]
    compared = comparison.pours.first()
    assert compared is not None
    record_scores(
        compared=compared,
        stage=Stage.WET,
        judge=helper,
        values={comparison.criteria.get(): 0},
        submission=make_submission(),
    )
    assert findings(comparison) == [Finding.SHOWS]
    assert [each.done for each in rounds(comparison)] == [8, 1]
    give(comparison, CLEAR, judge=helper)
    [(_measured, agreed)] = results_of(comparison).agreements
    assert agreed.w == 1


def test_words_and_outcomes_can_be_criteria(boards: Boards) -> None:
    session = judged_good(boards.pour(4))
    criteria = [
        CriterionFacts("Edge", scale="words", words=["torn", "wavy", "clean"]),
        CriterionFacts("Turned out", scale="outcome"),
    ]
    comparison = make_comparison(session, criteria=criteria)
    assert len(missing_scores(comparison)) == 8
    give(comparison, ([2, 2, 2, 2], [0, 1, 0, 0]))
    results = results_of(comparison)
    assert [measured.label for measured in results.judged] == ["Edge, wet", "Turned out"]
    assert results.verdicts[0][1].finding == Finding.SHOWS
    assert results.verdicts[0][1].margin is None


def test_an_altered_score_counts_from_then_on_and_both_stay_visible(boards: Boards) -> None:
    comparison = make_comparison(boards.pour())
    give(comparison, ([1, 2, 3], [4, 5, 6]))
    give(comparison, ([9, 2, 3], [4, 5, 6]))
    [(old, new)] = altered_scores(comparison)
    assert (old.value, new.value) == (1000, 9000)
    assert Score.objects.count() == 7, "a score sent again is not another one"
    assert results_of(comparison).arms[0].means == [Fraction(14, 3)]


def test_a_blind_comparison_gives_every_pour_two_codes_and_hides_its_arms(boards: Boards) -> None:
    comparison = make_comparison(boards.pour(), is_blind=True, judged="both")
    pours = list(comparison.pours.all())
    assert len({code for each in pours for code in (each.wet_code, each.dry_code)}) == 12
    assert (
        sorted(each.wet_turn for each in pours)
        == sorted(each.dry_turn for each in pours)
        == list(range(1, 7))
    )
    turns = [each.arm.name for each in in_turn(comparison, Stage.WET)]
    assert all(set(turns[place : place + 2]) == {"Glue", "Resin"} for place in (0, 2, 4))
    assert not comparison.shows_arms
    finish(comparison=comparison, submission=make_submission(), despite_missing=True)
    assert comparison.shows_arms


def test_it_finishes_only_when_all_is_scored_or_on_purpose(boards: Boards) -> None:
    comparison = make_comparison(boards.pour())
    with pytest.raises(InventoryError, match="6"):
        finish(comparison=comparison, submission=make_submission())
    give(comparison, ([1, 2, 3], [4, 5, 6]))
    finish(comparison=comparison, submission=make_submission())
    with pytest.raises(InventoryError):
        give(comparison, ([1, 2, 4], [4, 5, 6]))
    with pytest.raises(InventoryError):
        place_pours(comparison=comparison, placements=[], submission=make_submission())


def test_a_pour_is_left_out_for_a_reason_and_needs_no_score(boards: Boards) -> None:
    comparison = make_comparison(boards.pour())
    dropped = comparison.pours.select_related("arm", "pour__session__posting")[0]
    placement = Placement(dropped.arm, dropped.pour, left_out="dropped")
    place_pours(comparison=comparison, placements=[placement], submission=make_submission())
    assert len(missing_scores(comparison)) == 5
    results = results_of(comparison)
    assert [each.left_out for each in results.left_out] == ["dropped"]
    assert [len(arm.pours) for arm in results.arms] == [2, 3]


def test_a_scored_pour_stays_in_its_arm(boards: Boards) -> None:
    comparison = make_comparison(boards.pour())
    give(comparison, ([1, 2, 3], [4, 5, 6]))
    moved = comparison.arms.get(name="Glue").pours.select_related("pour__session__posting")[0]
    placement = Placement(comparison.arms.get(name="Resin"), moved.pour)
    with pytest.raises(InventoryError):
        place_pours(comparison=comparison, placements=[placement], submission=make_submission())


def test_arms_tell_cost_run_off_and_minutes(boards: Boards) -> None:
    results = results_of(make_comparison(judged_good(boards.pour())))
    for arm in results.arms:
        assert arm.run_off == Fraction(1, 10)
        assert arm.minutes_each == 10
        assert arm.cost_per_good_pour == arm.cost // 3
        assert arm.cost > 3_000_000


def test_the_recipe_sheet_gives_parts_per_one_of_paint(boards: Boards) -> None:
    glue, resin = recipes_of(make_comparison(boards.pour()), Formatter.of(Studio.current()))
    assert (glue.name, resin.name) == ("Glue", "Resin")
    [(name, parts, share, water)] = glue.cups
    assert name == "Sail Loft White"
    assert parts == "1 Sail Loft White, 2 Loft glue, 0.5 Tap water"
    assert (share, water) == ("100%", "14.3%")


WRONG: dict[str, tuple[dict[str, Any], str]] = {
    "one arm": ({"arms": [ArmFacts("Glue")]}, "arms"),
    "two arms of one name": ({"arms": [ArmFacts("Glue"), ArmFacts("glue ")]}, "arms"),
    "no criterion": ({"criteria": []}, "criteria"),
    "two criteria of one name": (
        {"criteria": [CriterionFacts("Rings"), CriterionFacts("rings")]},
        "criteria",
    ),
    "nobody to judge": ({"judges": []}, "judges"),
    "nothing that differs": ({"varied": "weather"}, "varied"),
    "no name": ({"name": " "}, "name"),
    "another time": ({"judged": "never"}, "judged"),
}


@pytest.mark.parametrize(("change", "field"), WRONG.values(), ids=WRONG)
def test_a_comparison_that_makes_no_sense_is_refused_at_its_field(
    db: None, change: dict[str, Any], field: str
) -> None:
    with pytest.raises(InputError) as refused:
        make_comparison(None, **change)
    assert refused.value.field == field
    assert not Comparison.objects.exists()


@pytest.mark.parametrize(
    ("facts", "field"),
    [
        ({"name": ""}, "name"),
        ({"scale": "stars"}, "scale"),
        ({"lowest": 5000, "highest": 5000}, "highest"),
        ({"highest": 10_250}, "highest"),
        ({"highest": 90_000}, "highest"),
        ({"scale": "words", "words": ["one"]}, "words"),
        ({"scale": "words", "words": ["one", "one"]}, "words"),
        ({"margin": 0}, "margin"),
    ],
)
def test_a_criterion_that_makes_no_sense_is_refused_at_its_field(facts: dict[str, Any], field: str) -> None:
    with pytest.raises(InputError) as refused:
        CriterionFacts(**({"name": "Rings"} | facts))
    assert refused.value.field == field


def test_somebody_who_may_not_save_is_no_judge(db: None) -> None:
    with pytest.raises(InputError):
        make_comparison(None, judges=[make_bookkeeper()])


def test_a_pour_of_a_reversed_session_is_refused(boards: Boards) -> None:
    session = boards.pour()
    comparison = make_comparison(None)
    arm = comparison.arms.all()[0]
    take_back(session.posting)
    session.refresh_from_db()
    with pytest.raises(InputError):
        make_comparison(session, name="Another")
    pours = session.pours.select_related("session__posting__reversed_by")
    with pytest.raises(InventoryError):
        place_pours(
            comparison=comparison, placements=[Placement(arm, pours[0])], submission=make_submission()
        )


@pytest.mark.parametrize("value", [-500, 10_500, 250])
def test_a_score_off_its_scale_is_refused(boards: Boards, value: int) -> None:
    comparison = make_comparison(boards.pour())
    with pytest.raises(InputError):
        score(comparison, value=value)


def score(
    comparison: Comparison, *, judge: User | None = None, stage: str = Stage.WET, value: int = 1000
) -> None:
    compared = comparison.pours.select_related("comparison")[0]
    record_scores(
        compared=compared,
        stage=stage,
        judge=judge or make_owner(),
        values={comparison.criteria.all()[0]: value},
        submission=make_submission(),
    )


def test_only_judges_score_and_only_when_it_is_judged(boards: Boards) -> None:
    comparison = make_comparison(boards.pour())
    with pytest.raises(InventoryError):
        score(comparison, judge=make_helper())
    with pytest.raises(InventoryError):
        score(comparison, stage=Stage.DRY)


def test_a_comparison_without_scores_can_be_deleted_and_one_with_scores_cannot(boards: Boards) -> None:
    first, second = make_comparison(boards.pour()), make_comparison(boards.pour(), name="Kept")
    discard(comparison=first, submission=make_submission())
    score(second)
    with pytest.raises(InventoryError):
        discard(comparison=second, submission=make_submission())
    assert [each.name for each in Comparison.objects.all()] == ["Kept"]
    assert check().breaks == ()  # its judges went with it, and that was sealed


def test_the_database_itself_keeps_scores_and_what_is_finished(boards: Boards) -> None:
    comparison = make_comparison(boards.pour())
    score(comparison)
    row = Score.objects.get()
    for statement in ("UPDATE inventory_score SET value = 9000", "DELETE FROM inventory_score"):
        with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(statement)
    finish(comparison=comparison, submission=make_submission(), despite_missing=True)
    row.pk = None
    with pytest.raises(IntegrityError), transaction.atomic():
        row.save(force_insert=True)
    for change in ({"finished_at": None}, {"is_blind": True}, {"varied": "ratio"}):
        with pytest.raises(IntegrityError), transaction.atomic():
            Comparison.objects.filter(pk=comparison.pk).update(**change)
    Comparison.objects.filter(pk=comparison.pk).update(name="Renamed")


def test_the_same_sending_starts_one_comparison(boards: Boards) -> None:
    facts = ComparisonFacts(
        "Glue or resin", "medium", arms_of(boards.pour()), [CriterionFacts("Rings")], [make_owner()]
    )
    twice = [start_comparison(facts=facts, submission=make_submission(key="once")) for _n in range(2)]
    assert twice[0] == twice[1]
    assert Comparison.objects.count() == 1


def test_queries_do_not_grow_with_pours_and_scores(
    boards: Boards, django_assert_max_num_queries: Any
) -> None:
    small, large = make_comparison(boards.pour(2)), make_comparison(boards.pour(8), name="Large")
    give(large, ([1] * 8, [2] * 8))
    with django_assert_max_num_queries(30) as counted:
        results_of(small)
    with django_assert_max_num_queries(len(counted.captured_queries)):
        results_of(large)


def test_a_mix_without_density_is_not_recorded_rather_than_guessed(boards: Boards) -> None:
    comparison = make_comparison(boards.pour())
    boards.white.__class__.objects.filter(pk=boards.media[0].pk).update(measure="mass", density=None)
    assert Fact.PART in results_of(comparison).likeness.missing


def test_pours_of_a_session_that_is_reversed_are_left_out(boards: Boards) -> None:
    kept, reversed_later = boards.pour(2), boards.pour(2)
    comparison = make_comparison(kept)
    placements = [
        Placement(comparison.arms.get(name=pour.arm), pour)
        for pour in reversed_later.pours.select_related("session__posting")
    ]
    place_pours(comparison=comparison, placements=placements, submission=make_submission())
    assert len(missing_scores(comparison)) == 8
    take_back(reversed_later.posting)
    assert len(missing_scores(comparison)) == 4
    results = results_of(comparison)
    assert [len(arm.pours) for arm in results.arms] == [2, 2]
    assert len(results.left_out) == 4
    assert all(each.why_left_out for each in results.left_out)


def test_a_corrected_cup_is_compared_as_it_was_corrected(boards: Boards) -> None:
    session = boards.pour(2, more_water=80)
    comparison = make_comparison(session)
    assert results_of(comparison).likeness.fairness == Fairness.NOT_FAIR
    facts = boards.facts(
        2, pours=list(session.pours.order_by("number")), mixes=list(session.mixes.order_by("pk"))
    )
    correct_session(session=session, facts=facts, submission=make_submission())
    assert results_of(comparison).likeness.fairness == Fairness.AS_FAR_AS_RECORDED


def test_a_compared_pour_is_not_struck_out_of_its_session(boards: Boards) -> None:
    session = boards.pour(2)
    make_comparison(session)
    pours = list(session.pours.order_by("number"))[:-1]
    facts = boards.facts(2, pours=pours, mixes=list(session.mixes.order_by("pk")))
    with pytest.raises(InventoryError, match="Glue or resin"):
        correct_session(session=session, facts=facts, submission=make_submission())
