"""What a scale can tell of a cup, and what to add when too much went in. Figures in g unless they say mL."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.recipes.measuring import (
    Correction,
    Limits,
    after_pouring_off,
    corrected,
    is_near_enough,
    is_within,
    running_readings,
    to_step,
    with_what_there_is,
)

G = 1000
STEPS = st.sampled_from([1, 10, 100, 500, 1000, 5000])
AMOUNTS = st.lists(st.integers(0, 500_000), min_size=1, max_size=8)


def grams(*amounts: str) -> list[int]:
    return [int(Fraction(amount) * G) for amount in amounts]


def added(correction: Correction) -> list[int]:
    return [reading.amount for reading in correction.added]


def shown(correction: Correction) -> list[int]:
    return [reading.shows for reading in correction.added]


def test_running_totals_are_rounded_and_the_parts_follow_from_them() -> None:
    # 1:2:1 of 100 g on a scale that tells 0.1 g, and thirds, which no scale can tell.
    assert [each.shows for each in running_readings(grams("25", "50", "25"), 100)] == grams("25", "75", "100")
    thirds = running_readings([Fraction(100 * G, 3)] * 3, 100)
    assert [each.shows for each in thirds] == grams("33.3", "66.7", "100")
    assert [each.amount for each in thirds] == grams("33.3", "33.4", "33.3")


def test_a_cup_that_is_weighed_along_raises_every_reading_by_its_own_weight() -> None:
    readings = running_readings(grams("40", "80"), 100, empty=12_340)
    assert [each.shows for each in readings] == grams("52.3", "132.3")
    assert [each.amount for each in readings] == grams("40", "80")


@given(amounts=AMOUNTS, step=STEPS, empty=st.integers(0, 50_000))
def test_no_part_is_off_by_more_than_a_step_and_they_add_up_to_the_cup(
    amounts: list[int], step: int, empty: int
) -> None:
    readings = running_readings(amounts, step, empty=empty)
    assert all(abs(each.amount - exact) <= step for each, exact in zip(readings, amounts, strict=True))
    assert sum(each.amount for each in readings) == to_step(sum(amounts), step)
    shows = [to_step(empty, step), *(each.shows for each in readings)]
    assert shows == sorted(shows)
    assert all(each.shows % step == 0 for each in readings)


# Worked out by hand from parts and what is in the cup: the least addition that brings the proportions back.
@pytest.mark.parametrize(
    ("parts", "in_cup", "step", "more", "readings"),
    [
        (("40", "80", "40"), ("46", "0", "0"), 1000, ("0", "92", "46"), ("46", "138", "184")),
        (("40", "80", "40"), ("40", "92", "0"), 1000, ("6", "0", "46"), ("138", "138", "184")),
        (("40", "80", "40"), ("40", "80", "52"), 1000, ("12", "24", "0"), ("184", "208", "208")),
        (("30", "70"), ("33.3", "0"), 100, ("0", "77.7"), ("33.3", "111")),
        (("30", "50", "10"), ("31", "0", "0"), 100, ("0", "51.7", "10.3"), ("31", "82.7", "93")),
        (("49", "21", "14"), ("50", "0", "0"), 1000, ("0", "21", "15"), ("50", "71", "86")),
    ],
)
def test_too_much_of_a_part_asks_for_more_of_the_others(
    parts: tuple[str, ...],
    in_cup: tuple[str, ...],
    step: int,
    more: tuple[str, ...],
    readings: tuple[str, ...],
) -> None:
    correction = corrected(grams(*parts), grams(*in_cup), step)
    assert added(correction) == grams(*more)
    assert shown(correction) == grams(*readings)


def test_too_little_of_a_part_is_topped_up_to_the_plan() -> None:
    correction = corrected(grams("40", "80", "40"), grams("38", "80", "0"), 1000)
    assert added(correction) == grams("2", "0", "40")


def test_the_weight_of_the_empty_cup_stays_in_the_readings() -> None:
    correction = corrected(grams("40", "80", "40"), grams("46", "0", "0"), 1000, empty=12 * G)
    assert (correction.kept, shown(correction)) == (58 * G, grams("58", "150", "196"))


@pytest.mark.parametrize(
    ("planned", "amount", "step", "is_near"),
    [
        (40_000, 40_800, 100, True),  # 2 %
        (40_000, 40_801, 100, False),
        (40_000, 39_200, 100, True),
        (40_000, 41_000, 1000, True),  # one step
        (2_000, 2_100, 100, True),
        (2_000, 2_200, 100, False),
    ],
)
def test_two_per_cent_or_a_step_is_near_enough(planned: int, amount: int, step: int, is_near: bool) -> None:
    assert is_near_enough(planned, amount, step) is is_near


PLAN, TOO_MUCH = grams("40", "80", "40"), grams("46", "0", "0")


@pytest.mark.parametrize(
    "limits", [Limits([None, 80 * G, None]), Limits([None, None, None], room=160 * G)], ids=["shelf", "cup"]
)
def test_too_little_left_or_too_small_a_cup_is_met_by_pouring_off(limits: Limits) -> None:
    assert not is_within(corrected(PLAN, TOO_MUCH, 1000), limits)
    correction = after_pouring_off(PLAN, TOO_MUCH, 1000, limits=limits)
    assert correction.kept == 40 * G
    assert added(correction) == grams("0", "80", "40")
    assert correction.contents == tuple(PLAN)


def test_or_what_there_is_goes_in_and_the_true_parts_are_known() -> None:
    correction = with_what_there_is(PLAN, TOO_MUCH, 1000, limits=Limits([None, 80 * G, None]))
    assert correction.kept == 46 * G
    assert correction.contents == tuple(grams("46", "80", "46"))


def test_a_cup_that_is_full_already_takes_nothing_more() -> None:
    correction = with_what_there_is(PLAN, TOO_MUCH, 1000, limits=Limits([None, None, None], room=46 * G))
    assert added(correction) == [0, 0, 0]


CUPS = st.integers(1, 6).flatmap(
    lambda parts: st.tuples(
        st.lists(st.integers(1, 300_000), min_size=parts, max_size=parts),
        st.lists(st.integers(0, 400_000), min_size=parts, max_size=parts),
        st.lists(st.none() | st.integers(0, 300_000), min_size=parts, max_size=parts),
    )
)


@given(cup=CUPS, step=STEPS)
def test_a_corrected_cup_is_in_proportion_to_within_a_step(
    cup: tuple[list[int], list[int], list[int | None]], step: int
) -> None:
    planned, in_cup, _left = cup
    correction = corrected(planned, in_cup, step)
    times = max(Fraction(1), *(Fraction(has, part) for has, part in zip(in_cup, planned, strict=True)))
    assert all(
        abs(amount - times * part) <= step for amount, part in zip(correction.contents, planned, strict=True)
    )
    assert all(amount >= 0 for amount in added(correction))


@given(cup=CUPS, step=STEPS, room=st.none() | st.integers(1, 2_000_000))
def test_what_is_short_is_never_exceeded_either_way(
    cup: tuple[list[int], list[int], list[int | None]], step: int, room: int | None
) -> None:
    planned, in_cup, left = cup
    limits = Limits(left, room)
    for way in (with_what_there_is, after_pouring_off):
        correction = way(planned, in_cup, step, limits=limits)
        assert all(
            more is None or 0 <= amount <= more for amount, more in zip(added(correction), left, strict=True)
        )
        if room is not None:
            assert not sum(added(correction)) or correction.added[-1].shows <= room
        shows = [correction.kept, *shown(correction)]
        assert shows == sorted(shows)
