"""Comparisons over JSON: started, given pours, scored, finished, read."""

from typing import Any

import pytest

from inventory.comparisons.models import Comparison, Score
from studio.accounts.models import User
from tests.inventory.comparisons.boards import Boards, give, make_comparison, pours_of
from tests.making import make_helper
from tests.programs import Program

pytestmark = pytest.mark.django_db


@pytest.fixture
def boards(db: None) -> Boards:
    return Boards()


@pytest.fixture
def program(owner: User) -> Program:
    return Program(owner)


def body(boards: Boards, owner: User, **change: Any) -> dict[str, Any]:
    pours = pours_of(boards.pour())
    arms = [
        {"name": name, "pours": [pour.pk for pour in pours if pour.arm == name]} for name in ("Glue", "Resin")
    ]
    return {
        "name": "Glue or resin",
        "varied": "medium",
        "judged": "wet",
        "judges": [owner.pk],
        "arms": arms,
        "criteria": [{"name": "Open rings", "margin": "1.5"}],
    } | change


def test_a_comparison_goes_its_whole_way(boards: Boards, program: Program, owner: User) -> None:
    made = program.send("comparisons/", body(boards, owner))
    [criterion] = made["criteria"]
    for place, compared in enumerate(made["compared"]):
        score = {"pour": compared["id"], "criterion": criterion["id"], "stage": "wet", "judge": owner.pk}
        answer = program.send(f"comparisons/{made['id']}/scores/", score | {"value": str(place)}, status=200)
    assert answer["finished_at"] is None
    done = program.send(f"comparisons/{made['id']}/finish/", {}, status=200)
    assert done["finished_at"]
    assert done["fairness"] == "as_far_as_recorded"
    assert [arm["name"] for arm in done["arms"]] == ["Glue", "Resin"]
    assert {each["criterion"] for each in done["statements"]} == {"Open rings, wet"}
    assert Score.objects.count() == 6


def test_a_blind_one_hides_its_arms_until_it_is_finished(
    boards: Boards, program: Program, owner: User
) -> None:
    made = program.send("comparisons/", body(boards, owner, is_blind=True))
    assert all(each["arm"] is None and each["pour"] is None for each in made["compared"])
    assert made["fairness"] is None
    done = program.send(f"comparisons/{made['id']}/finish/", {"despite_missing": True}, status=200)
    assert all(each["arm"] and each["pour"] for each in done["compared"])


def test_pours_are_placed_and_arms_of_another_comparison_refused(
    boards: Boards, program: Program, owner: User
) -> None:
    made = program.send("comparisons/", body(boards, owner))
    pour = pours_of(boards.pour())[0]
    arm = made["arms"][0]["id"]
    placed = {"pours": [{"arm": arm, "pour": pour.pk, "hands": "Ida"}]}
    answer = program.send(f"comparisons/{made['id']}/pours/", placed, status=200)
    assert len(answer["compared"]) == 7
    other = make_comparison(boards.pour(), name="Other").arms.all()[0].pk
    wrong = {"pours": [{"arm": other, "pour": pour.pk}]}
    program.send(f"comparisons/{made['id']}/pours/", wrong, status=400)


def test_a_pour_that_is_named_twice_is_refused_in_words(
    boards: Boards, program: Program, owner: User
) -> None:
    made = program.send("comparisons/", body(boards, owner))
    placed = {"arm": made["arms"][0]["id"], "pour": pours_of(boards.pour())[0].pk}
    refused = program.send(f"comparisons/{made['id']}/pours/", {"pours": [placed, placed]}, status=422)
    assert "named twice" in str(refused)
    assert program.read(f"comparisons/{made['id']}/")["compared"] == made["compared"]


def test_what_is_wrong_is_told_at_its_field(boards: Boards, program: Program, owner: User) -> None:
    refused = program.send("comparisons/", body(boards, owner, judges=[]), status=400)
    assert "judges" in refused["errors"]
    wrong = [{"name": "Rings", "lowest": "3", "highest": "2"}]
    refused = program.send("comparisons/", body(boards, owner, criteria=wrong), status=400)
    assert "criteria" in refused["errors"]
    assert not Comparison.objects.exists()


def test_a_helper_without_sight_of_money_gets_no_cost(boards: Boards, program: Program) -> None:
    comparison = make_comparison(boards.pour(4))
    give(comparison, ([8, 9, 8, 9], [5, 6, 5, 6]))
    assert "cost_per_good_pour" in program.read(f"comparisons/{comparison.pk}/")["arms"][0]
    assert "cost_per_good_pour" not in Program(make_helper()).read(f"comparisons/{comparison.pk}/")["arms"][0]
