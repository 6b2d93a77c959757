"""What else differed is named, and nothing else is: pours on 314 cm², 60 mL each of a white and a blue cup."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.comparisons.calculations.facts import Cup, Fact, PourRecord, Role, Tolerance, Varied
from inventory.comparisons.calculations.likeness import Fairness, Likeness, likeness

WORDS = {
    Fact.SURFACE: "round 20",
    Fact.SIDES: "",
    Fact.TECHNIQUE: "ring",
    Fact.ORDER: "white first",
    Fact.POURED_OVER: "",
    Fact.HANDS: "Ida",
}


def cup(paint: str, *, medium: str = "glue", water: int | str = "0.5", parts: int | str = 2) -> Cup:
    return Cup(
        paint,
        {
            (Role.PAINT, paint): Fraction(1),
            (Role.MEDIUM, medium): Fraction(parts),
            (Role.WATER, "water"): Fraction(water),
        },
        Fraction(1, 2),
    )


def pour(
    arm: int,
    *,
    cups: tuple[Cup, ...] | None = None,
    session: str = "1",
    turn: int = 1,
    poured: int = 60,
    area: int = 314,
    words: Mapping[Fact, str | None] | None = None,
    temperature: int | None = 20,
    humidity: int | None = 50,
    age: int = 0,
    lots: Mapping[str, frozenset[str]] | None = None,
) -> PourRecord:
    medium = ("glue", "resin")[arm % 2]
    return PourRecord(
        label=f"P{arm}{turn}",
        arm=arm,
        session=session,
        turn=turn,
        cups=cups if cups is not None else (cup("white", medium=medium), cup("blue", medium=medium)),
        words={**WORDS, **(words or {})},
        numbers={
            Fact.AMOUNT: Fraction(poured, area),
            Fact.TEMPERATURE: None if temperature is None else Fraction(temperature),
            Fact.HUMIDITY: None if humidity is None else Fraction(humidity),
            Fact.MIX_AGE: Fraction(age),
        },
        lots=lots or {},
    )


def both(make: Callable[[int], list[PourRecord]]) -> list[PourRecord]:
    return [*make(0), *make(1)]


def facts_of(verdict: Likeness) -> list[Fact]:
    return [each.fact for each in verdict.other]


FAIR = {
    "nothing else differs": [pour(0), pour(1)],
    "both arms in each of two sessions, warm and cool": [
        pour(arm, session=session, temperature=degrees)
        for session, degrees in (("1", 20), ("2", 24))
        for arm in (0, 1)
    ],
    "a tenth more poured": [pour(0), pour(1, poured=66)],
    "another lot of white": [
        pour(0, lots={"white": frozenset({"L1"})}),
        pour(1, lots={"white": frozenset({"L2"})}),
    ],
}


@pytest.mark.parametrize("pours", FAIR.values(), ids=FAIR)
def test_a_fair_comparison_of_media(pours: list[PourRecord]) -> None:
    assert likeness(pours, Varied.MEDIUM).fairness == Fairness.FAIR


def test_another_lot_is_noted() -> None:
    [note] = likeness(FAIR["another lot of white"], Varied.MEDIUM).notes
    assert (note.fact, note.about, note.by_arm) == (Fact.LOT, "white", {0: "L1", 1: "L2"})


def test_ratio_and_order_can_be_what_is_compared() -> None:
    glue = [pour(arm, cups=(cup("white", parts=2 - arm),)) for arm in (0, 1)]
    assert likeness(glue, Varied.RATIO).fairness == Fairness.FAIR
    cups = (cup("white"), cup("blue"))
    ordered = [pour(arm, cups=cups, words={Fact.ORDER: f"{('white', 'blue')[arm]} first"}) for arm in (0, 1)]
    assert likeness(ordered, Varied.ORDER).fairness == Fairness.FAIR
    assert likeness([pour(0, cups=cups), pour(1, cups=cups)], Varied.OTHER).fairness == Fairness.FAIR


def test_more_water_in_one_arm_is_named_with_its_figures_and_nothing_else() -> None:
    watered = [
        pour(0),
        pour(1, cups=(cup("white", medium="resin", water="0.9"), cup("blue", medium="resin"))),
    ]
    verdict = likeness(watered, Varied.MEDIUM)
    assert verdict.fairness == Fairness.NOT_FAIR
    [difference] = verdict.other
    assert (difference.fact, difference.about) == (Fact.PART, "white: water")
    assert difference.by_arm == {0: Fraction(1, 2), 1: Fraction(9, 10)}


def test_errors_that_cancel_over_cups_are_both_named() -> None:
    crossed = [
        pour(0),
        pour(1, cups=(cup("white", medium="resin", water="0.7"), cup("blue", medium="resin", water="0.3"))),
    ]
    assert [each.about for each in likeness(crossed, Varied.MEDIUM).other] == ["white: water", "blue: water"]


NOT_FAIR: dict[str, tuple[list[PourRecord], Varied, list[Fact]]] = {
    "a session for each arm": (
        [pour(0, session="1", temperature=20), pour(1, session="2", temperature=24)],
        Varied.MEDIUM,
        [Fact.DAY, Fact.TEMPERATURE],
    ),
    "a sixth more poured": ([pour(0), pour(1, poured=70)], Varied.MEDIUM, [Fact.AMOUNT]),
    "the same paint on a smaller board": (
        [pour(0), pour(1, area=254, words={Fact.SURFACE: "round 18"})],
        Varied.MEDIUM,
        [Fact.SURFACE, Fact.AMOUNT],
    ),
    "the same surfaces in other proportions": (
        [
            pour(arm, words={Fact.SURFACE: size}, turn=turn)
            for arm, sizes in enumerate((("small", "small", "large"), ("small", "large", "large")))
            for turn, size in enumerate(sizes)
        ],
        Varied.MEDIUM,
        [Fact.SURFACE],
    ),
    "another ratio, and another medium with it": (
        [pour(0, cups=(cup("white"),)), pour(1, cups=(cup("white", medium="resin", parts=1),))],
        Varied.RATIO,
        [Fact.PART, Fact.PART],
    ),
    "another colour": (
        [pour(0), pour(1, cups=(cup("white", medium="resin"), cup("red", medium="resin")))],
        Varied.MEDIUM,
        [Fact.COLOURS, Fact.COLOURS],
    ),
    "an old mix": ([pour(0), pour(1, age=48)], Varied.MEDIUM, [Fact.MIX_AGE]),
}


@pytest.mark.parametrize(("pours", "varied", "facts"), NOT_FAIR.values(), ids=NOT_FAIR)
def test_what_else_differs_is_named(pours: list[PourRecord], varied: Varied, facts: list[Fact]) -> None:
    verdict = likeness(pours, varied)
    assert verdict.fairness == Fairness.NOT_FAIR
    assert facts_of(verdict) == facts


def test_what_is_not_recorded_is_said() -> None:
    verdict = likeness([pour(0), pour(1, humidity=None)], Varied.MEDIUM)
    assert (verdict.fairness, verdict.missing) == (Fairness.AS_FAR_AS_RECORDED, [Fact.HUMIDITY])
    unknown = [replace(each, cups=None) for each in (pour(0), pour(1))]
    assert likeness(unknown, Varied.MEDIUM).missing == [Fact.PART]


def test_both_cups_shared_over_all_boards_compare_nothing() -> None:
    shared = (cup("white"), cup("blue", medium="resin"))
    verdict = likeness([pour(0, cups=shared), pour(1, cups=shared)], Varied.MEDIUM)
    assert (verdict.fairness, verdict.same_arms) == (Fairness.NO_COMPARISON, [(0, 1)])
    assert likeness([pour(0), pour(0)], Varied.MEDIUM).fairness == Fairness.NO_COMPARISON


def test_an_arm_that_is_not_of_one_kind_is_not_fair() -> None:
    mixed = [pour(0), pour(0, cups=pour(1).cups), pour(1), pour(1)]
    assert Fact.COMPARED in facts_of(likeness(mixed, Varied.MEDIUM))


def test_sessions_without_every_arm_are_left_out() -> None:
    verdict = likeness([pour(0), pour(1), pour(1, session="2", temperature=35)], Varied.MEDIUM)
    assert (verdict.fairness, verdict.left_out) == (Fairness.FAIR, ["2"])


def test_an_arm_poured_wholly_before_the_other_is_noted() -> None:
    turns = [pour(arm, turn=arm * 2 + number) for arm in (0, 1) for number in (1, 2)]
    assert [each.fact for each in likeness(turns, Varied.MEDIUM).notes] == [Fact.TURN]


def test_amounts_are_compared_by_their_means() -> None:
    cups = (cup("white"),)
    amounts = [pour(arm, cups=cups, poured=poured) for arm, poured in ((0, 50), (0, 56), (1, 80), (1, 90))]
    assert likeness(amounts, Varied.AMOUNT).fairness == Fairness.FAIR
    assert (
        likeness([pour(0, cups=cups), pour(1, cups=cups)], Varied.AMOUNT).fairness == Fairness.NO_COMPARISON
    )


amounts = st.fractions(0, 10, max_denominator=1000)


@given(amounts, amounts)
def test_likeness_is_mutual_and_every_amount_is_like_itself(a: Fraction, b: Fraction) -> None:
    tolerance = Tolerance(Fraction(5, 100), 50)
    assert tolerance.alike(a, a)
    assert tolerance.alike(a, b) == tolerance.alike(b, a)


@given(st.permutations(range(4)))
def test_the_order_in_which_pours_are_listed_does_not_matter(order: list[int]) -> None:
    pours = [pour(0, turn=1), pour(1, turn=2), pour(0, turn=3, poured=64), pour(1, turn=4, poured=72)]
    listed = [pours[place] for place in order]
    assert likeness(listed, Varied.MEDIUM).other == likeness(pours, Varied.MEDIUM).other
