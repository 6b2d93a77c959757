"""Pouring by weight: masses that close, what the scale cannot tell, and the density of a blend."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.sessions.weighing import (
    Balance,
    Readings,
    Verdict,
    balance,
    blended_density,
    off_the_record,
    run_off_of_each,
    share_uncertainty,
    uncertainty,
)
from studio.errors import InputError
from studio.values.quantities import mass_of, volume_of
from studio.values.sizes import Size

G = 1_000
CM2 = 1_000


def readings(**facts: Any) -> Readings:
    return Readings(**{"scale_step": G, **facts})


def weighed(poured: int, ran_off: int, stayed: int, *, minutes: int | None = 0, area: int = 900) -> Balance:
    """Grams that left the cup, that the tray caught and that the surface gained, by a scale of 1 g."""
    found = balance(
        readings(
            cups_before=500 * G,
            cups_after=(500 - poured) * G,
            tray_before=200 * G,
            tray_after=(200 + ran_off) * G,
            surfaces_before=300 * G,
            surfaces_after=(300 + stayed) * G,
            minutes=minutes,
        ),
        area * CM2,
    )
    assert found is not None
    return found


def test_the_uncertainty_is_that_of_rounded_readings() -> None:
    # d·√(R(1/12 + (σ/d)²)), by arithmetic: six readings of 1 g √½ g; with a repeatability of half a gram √2 g.
    assert uncertainty(6, 1) == pytest.approx(0.7071, abs=0.0001)
    assert uncertainty(6, 1, 0.5) == pytest.approx(1.4142, abs=0.0001)


def test_the_run_off_share_says_how_sure_it_is() -> None:
    # 45 of 150 g is 30 ± 0.6 %, 5 of 20 g is 25 ± 4.2 % (twice the standard uncertainty, by arithmetic).
    assert 200 * share_uncertainty(45, 150, 1) == pytest.approx(0.57, abs=0.005)
    assert 200 * share_uncertainty(5, 20, 1) == pytest.approx(4.21, abs=0.005)
    assert weighed(150, 45, 105).run_off_unsure == pytest.approx(5_700, abs=50)


def test_one_part_paint_two_medium_one_water_weigh_as_their_masses_add_up() -> None:
    """1.20, 1.03 and 1.00 g/mL as 1:2:1 are 1.065 g/mL by volume; by mass 1.0596 (by arithmetic)."""
    assert blended_density([(1_000, 1_200_000), (2_000, 1_030_000), (1_000, 1_000_000)]) == 1_065_000
    by_mass = [(volume_of(mass, density), density) for mass, density in
               [(10**6, 1_200_000), (2 * 10**6, 1_030_000), (10**6, 1_000_000)]]  # fmt: skip
    assert blended_density(by_mass) == pytest.approx(1_059_600, abs=50)
    with pytest.raises(ValueError, match="no volume"):
        blended_density([])


def test_a_litre_over_a_square_metre_stands_a_millimetre_high() -> None:
    """Film arithmetic of coatings: 1 L of a film without loss on 1 m² is 1 mm (spreading rate at 100 % solids)."""
    area = Size(100_000, 100_000).face_area()  # thousandths of a cm²
    litre = 1_000_000  # thousandths of a mL, which are mm³
    assert litre / (area / 1000 * 100) == 1  # mm³ ÷ mm²
    found = weighed(1065 // 5, 0, 1065 // 5)
    assert volume_of(found.stayed, 1_065_000) == 200_000


def test_what_left_the_cups_is_what_ran_off_and_what_stayed_on() -> None:
    found = weighed(150, 45, 104)
    assert (found.poured, found.ran_off, found.stayed, found.gap) == (150 * G, 45 * G, 104 * G, 1 * G)
    assert (found.share(found.ran_off), found.verdict) == (300_000, Verdict.CLOSES)


def test_without_the_surfaces_weighed_the_rest_is_taken_to_have_stayed_on() -> None:
    found = balance(readings(cups_before=400 * G, cups_after=250 * G, drips=45 * G), 900 * CM2)
    assert found is not None
    assert (found.stayed, found.gap) == (105 * G, 0)


def test_a_gap_that_dries_away_or_sticks_to_tools_is_usual_and_a_larger_one_is_not() -> None:
    # 900 cm² lose at most 13.5 g in an hour, tools keep 2 g; twice the uncertainty of six readings is 1.4 g.
    assert weighed(150, 45, 102).verdict == Verdict.CLOSES
    assert weighed(150, 45, 95).verdict == Verdict.MISSING
    assert weighed(150, 45, 95, minutes=60).verdict == Verdict.CLOSES
    assert weighed(150, 45, 107).verdict == Verdict.TOO_MUCH


def test_cups_without_a_tray_say_how_much_was_poured_and_no_more() -> None:
    only_cups = readings(cups_before=400 * G, cups_after=250 * G)
    assert only_cups.poured == 150 * G
    assert balance(only_cups, 900 * CM2) is None


@pytest.mark.parametrize(
    ("facts", "field"),
    [
        ({"cups_before": 400}, "cups_after"),
        ({"tray_after": 400}, "tray_before"),
        ({"cups_before": 400, "cups_after": 401}, "cups_after"),
        ({"cups_before": 400, "cups_after": 400}, "cups_after"),
        ({"tray_before": 40, "tray_after": 39}, "tray_after"),
        ({"surfaces_before": 40, "surfaces_after": 39}, "surfaces_after"),
        ({"cups_before": 40, "cups_after": 30, "tray_before": 1, "tray_after": 2_012}, "tray_after"),
        ({"cups_before": 40, "cups_after": 30, "drips": 2_011}, "drips"),
        ({"drips": 1, "scale_step": 0}, "scale_step"),
    ],
)
def test_readings_that_cannot_be_are_refused_by_their_field(facts: dict[str, int], field: str) -> None:
    with pytest.raises(InputError) as refused:
        readings(**facts)
    assert refused.value.field == field


masses = st.integers(0, 5_000_000)


@given(st.integers(1, 5_000_000), st.floats(0, 1), masses, masses, masses, st.sampled_from([10, 100, 1000]))
def test_true_masses_close_on_any_scale(
    poured: int, share: float, cup: int, tray: int, board: int, step: int
) -> None:
    """However it divides, readings rounded to the scale's step leave no larger gap than they can be off."""

    def shown(mass: int) -> int:
        return round(mass / step) * step

    ran_off = int(poured * share)
    try:
        taken = Readings(
            scale_step=step,
            cups_before=shown(cup + poured),
            cups_after=shown(cup),
            tray_before=shown(tray),
            tray_after=shown(tray + ran_off),
            surfaces_before=shown(board),
            surfaces_after=shown(board + poured - ran_off),
        )
    except InputError:
        assert poured <= step  # less than the scale can tell
        return
    found = balance(taken, 0)
    assert found is not None
    assert found.poured == found.ran_off + found.stayed + found.gap
    assert found.share(found.ran_off) + found.share(found.stayed) + found.share(found.gap) == pytest.approx(
        1_000_000, abs=2
    )
    # Six readings are each off by half a step at most: three steps together.
    assert abs(found.gap) <= 3 * step


@given(
    st.lists(st.integers(0, 2_000_000), min_size=1, max_size=30).filter(any),
    st.floats(0, 1),
    st.integers(700_000, 2_500_000),
    st.sampled_from([10, 100, 1000]),
)
def test_what_ran_off_is_shared_to_the_last_microlitre_and_never_more_than_was_poured(
    poured: list[int], share: float, density: int, step: int
) -> None:
    caught = round(mass_of(int(sum(poured) * share), density) / step) * step
    shares = run_off_of_each(readings(scale_step=step, drips=caught), poured, density)
    assert sum(shares) == min(volume_of(caught, density), sum(poured))
    assert all(0 <= part <= whole for part, whole in zip(shares, poured, strict=True))
    exact = [sum(shares) * whole / sum(poured) for whole in poured]
    assert all(abs(part - right) < 1 for part, right in zip(shares, exact, strict=True))


def test_more_run_off_than_paint_is_refused_beyond_what_rounding_can_do() -> None:
    by_rounding = readings(tray_before=0, tray_after=102 * G)
    assert run_off_of_each(by_rounding, [60 * G, 40 * G], 1_000_000) == [60 * G, 40 * G]
    for wrong, field in (
        ({"tray_before": 0, "tray_after": 103 * G}, "tray_after"),
        ({"drips": 103 * G}, "drips"),
    ):
        with pytest.raises(InputError, match=r"only 100\sg was poured") as refused:
            run_off_of_each(readings(**wrong), [60 * G, 40 * G], 1_000_000)
        assert refused.value.field == field


def test_cups_that_differ_from_the_books_by_less_than_the_scale_can_tell_are_no_matter() -> None:
    """Two readings to 1 g: 2 × 1/√12 × √2 = 0.82 g (JCGM 100, from memory)."""
    cups = readings(cups_before=200 * G, cups_after=100 * G)
    assert [off_the_record(cups, logged) for logged in (100_800, 101_000, 99_200, 90_000)] == [
        0,
        -G,
        0,
        10 * G,
    ]
    assert off_the_record(readings(drips=G), 5 * G) == 0
