"""Steps, doses and touches, without a database."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.bench.calculations import (
    Step,
    StepKind,
    Touch,
    TouchKind,
    cup_label,
    doses_for,
    from_jar_and_mix,
    steps_of,
    tally,
)
from studio.errors import InputError

AMOUNTS = st.integers(min_value=0, max_value=10**9)


@given(st.integers(min_value=1, max_value=10**9), st.lists(st.integers(1, 99), min_size=1, max_size=8))
def test_doses_are_tenths_and_never_more_than_the_surface_takes(each: int, shares: list[int]) -> None:
    doses = doses_for(each, shares)
    assert all(dose % 100 == 0 for dose in doses)
    assert each - 100 * len(shares) < sum(doses) <= each


@given(st.lists(st.integers(min_value=1, max_value=9), max_size=6), st.integers(min_value=0, max_value=20))
def test_every_part_goes_into_a_cup_that_was_zeroed_and_nothing_is_poured_before_all_are_mixed(
    parts: list[int], pours: int
) -> None:
    steps = steps_of(parts, pours)
    assert steps[0].kind is StepKind.READY
    assert steps[-1].kind is StepKind.FINISH
    for cup, count in enumerate(parts):
        own = [step for step in steps if step.cup == cup]
        stir = [Step(StepKind.STIR, cup)] if count > 1 else []
        adds = [Step(StepKind.ADD, cup, part) for part in range(count)]
        assert own == [Step(StepKind.ZERO, cup), *adds, *stir]
    kinds = [step.kind for step in steps]
    assert [step.pour for step in steps if step.kind is StepKind.POUR] == list(range(pours))
    first_pour = kinds.index(StepKind.POUR) if pours else len(kinds) - 1
    assert not {StepKind.ZERO, StepKind.ADD, StepKind.STIR, StepKind.REST} & set(kinds[first_pour:])
    assert kinds.count(StepKind.REST) == any(count > 1 for count in parts)


@pytest.mark.parametrize(
    ("place", "label"), [(0, "A"), (25, "Z"), (26, "AA"), (27, "AB"), (51, "AZ"), (52, "BA"), (701, "ZZ")]
)
def test_cups_are_lettered_as_columns_of_a_spreadsheet(place: int, label: str) -> None:
    assert cup_label(place) == label


@st.composite
def touched(draw: st.DrawFn) -> tuple[list[int], list[dict[int, int]], list[Touch]]:
    """Cups, surfaces, and touches in any order: each surface at most once, spills in between."""
    held = draw(st.lists(AMOUNTS, min_size=1, max_size=4))
    cups = st.integers(0, len(held) - 1)
    pours = draw(st.lists(st.dictionaries(cups, st.integers(1, 10**9), min_size=1), max_size=6))
    order = draw(st.permutations(range(len(pours))))
    touches = [Touch(draw(st.sampled_from(["poured", "failed"])), pour=pour) for pour in order]  # type: ignore[arg-type]
    for _spill in range(draw(st.integers(0, 3))):
        spill = Touch(TouchKind.SPILLED, cup=draw(cups), quantity=draw(st.integers(1, 10**9)))
        touches.insert(draw(st.integers(0, len(touches))), spill)
    return held, pours, [Touch(TouchKind(each.kind), each.pour, each.cup, each.quantity) for each in touches]


@given(touched())
def test_what_was_poured_spilled_and_left_adds_up_to_what_each_cup_held(
    work: tuple[list[int], list[dict[int, int]], list[Touch]],
) -> None:
    held, pours, touches = work
    try:
        result = tally(held, pours, touches)
    except InputError:
        return  # something was taken from a cup that was empty by then
    for cup, quantity in enumerate(held):
        poured = sum(taken.doses.get(cup, 0) for taken in result.taken)
        assert poured + result.spilled.get(cup, 0) + result.left[cup] == quantity
        assert result.left[cup] >= 0
    for taken in result.taken:
        assert all(0 < dose <= pours[taken.pour][cup] for cup, dose in taken.doses.items())


def test_after_a_spill_a_surface_takes_what_is_left() -> None:
    touches = [
        Touch(TouchKind.POURED, pour=0),
        Touch(TouchKind.SPILLED, cup=0, quantity=30),
        Touch(TouchKind.FAILED, pour=1),
    ]
    result = tally([100, 50], [{0: 40, 1: 20}, {0: 40, 1: 20}], touches)
    assert [(each.pour, each.is_failed, each.doses) for each in result.taken] == [
        (0, False, {0: 40, 1: 20}),
        (1, True, {0: 30, 1: 20}),
    ]
    assert (result.spilled, result.left) == ({0: 30}, [0, 10])


@pytest.mark.parametrize(
    "last",
    [
        Touch(TouchKind.POURED, pour=0),
        Touch(TouchKind.POURED, pour=1),
        Touch(TouchKind.POURED),
        Touch(TouchKind.SPILLED, cup=1, quantity=5),
        Touch(TouchKind.SPILLED, cup=0, quantity=5),
    ],
)
def test_a_touch_that_cannot_be_is_refused_by_its_place(last: Touch) -> None:
    with pytest.raises(InputError) as refusal:
        tally([40], [{0: 40}], [Touch(TouchKind.POURED, pour=0), last])
    assert refusal.value.line == 2


@given(st.lists(AMOUNTS, max_size=8), AMOUNTS)
def test_the_jar_is_used_up_first_and_alike_for_all(takes: list[int], jar: int) -> None:
    shares = from_jar_and_mix(takes, jar)
    assert [ready + mixed for ready, mixed in shares] == takes
    assert all(ready >= 0 and mixed >= 0 for ready, mixed in shares)
    assert sum(ready for ready, _mixed in shares) == min(jar, sum(takes))
