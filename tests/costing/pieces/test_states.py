"""The table of steps: pure, checked against the database's own words for states."""

from itertools import pairwise

import pytest

from costing.errors import StepRefused
from costing.pieces.calculations import ALLOWED, ENDS, State, Way, check_step, possibilities, steps_from
from costing.pieces.models import PieceState

USUAL_LIFE = [State.WET, State.DRY, State.FINISHED, State.FOR_SALE, State.RESERVED]


def test_the_table_knows_the_states_that_the_database_knows() -> None:
    assert [state.value for state in State] == PieceState.values
    assert set(ALLOWED) == set(State)


def test_a_piece_walks_from_wet_to_reserved_step_by_step() -> None:
    for here, there in pairwise(USUAL_LIFE):
        check_step("Low water", here, there)


def test_every_step_forward_can_be_taken_back() -> None:
    for here, there in pairwise(USUAL_LIFE):
        if there is State.RESERVED:
            check_step("Low water", there, here)
        else:
            assert ALLOWED[there].get(here) is Way.STEP, (there, here)


@pytest.mark.parametrize("state", [State.FINISHED, State.FOR_SALE, State.RESERVED])
def test_only_a_sale_makes_a_piece_sold(state: State) -> None:
    check_step("Low water", state, State.SOLD, Way.SALE)
    with pytest.raises(StepRefused, match="record a sale"):
        check_step("Low water", state, State.SOLD)


def test_a_sold_piece_comes_back_only_by_a_return() -> None:
    assert dict(ALLOWED[State.SOLD]) == {State.FOR_SALE: Way.RETURN}
    assert steps_from(State.SOLD) == ()
    with pytest.raises(StepRefused, match="record a return"):
        check_step("Low water", State.SOLD, State.FOR_SALE)


@pytest.mark.parametrize("state", [State.WET, State.DRY])
def test_a_piece_that_is_not_finished_cannot_be_sold(state: State) -> None:
    with pytest.raises(StepRefused, match="cannot be changed to sold"):
        check_step("Low water", state, State.SOLD, Way.SALE)


def test_no_mere_step_leads_out_of_the_books() -> None:
    for state in State:
        assert not set(steps_from(state)) & set(ENDS), state


def test_a_way_out_can_be_taken_back_to_where_it_was_entered() -> None:
    assert ALLOWED[State.GIVEN] == dict.fromkeys(
        [State.DRY, State.FINISHED, State.FOR_SALE, State.RESERVED], Way.BROUGHT_BACK
    )
    assert ALLOWED[State.WRITTEN_OFF][State.WET] is Way.BROUGHT_BACK


def test_a_refusal_says_in_plain_words_what_is_possible() -> None:
    with pytest.raises(StepRefused) as refusal:
        check_step("Low water", State.WET, State.FOR_SALE)
    assert str(refusal.value) == (
        "“Low water” is wet, so it cannot be changed to for sale. You can: mark it as dry; write it off; scrape it."
    )


def test_the_ways_back_are_told_once() -> None:
    assert possibilities(State.KEPT) == "bring it back, if that was entered by mistake"
