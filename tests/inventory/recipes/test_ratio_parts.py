"""Parts by role become the parts of a recipe: volumes, masses, per cent and drops."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.recipes.calculations import Basis, DensityNeededError, MixingError, Part, Recipe, amounts_for
from inventory.recipes.ratio_parts import (
    USUAL_DROP,
    Measured,
    RatioUnit,
    Role,
    RolePart,
    notation,
    parts_of,
    read_amount,
    read_notation,
)
from studio.errors import InputError

PAINT, MEDIUM, WATER, OIL = 1, 2, 3, 4
PARTS, PERCENT, DROPS = RatioUnit.PARTS, RatioUnit.PERCENT, RatioUnit.DROPS

amounts = st.integers(1, 20_000)
densities = st.integers(700_000, 2_000_000)


def one_to_two_to_a_half(*added: Measured) -> list[Measured]:
    plain = zip((PAINT, MEDIUM, WATER), (1000, 2000, 500), (1_200_000, 1_040_000, 1_000_000), strict=True)
    return [*(Measured(material, amount, PARTS, density) for material, amount, density in plain), *added]


def shares(parts: list[int]) -> list[Fraction]:
    return [Fraction(part, sum(parts)) for part in parts]


def test_a_ratio_of_parts_alone_keeps_its_numbers() -> None:
    assert parts_of(one_to_two_to_a_half(), Basis.VOLUME) == [1000, 2000, 500]


def test_a_cup_of_350_ml_by_one_to_two_to_a_half_takes_100_200_and_50_ml() -> None:
    parts = parts_of(one_to_two_to_a_half(), Basis.VOLUME)
    cup = amounts_for(350_000, [Part(n, part) for n, part in enumerate(parts)], Basis.VOLUME)
    assert [each.volume for each in cup] == [100_000, 200_000, 50_000]


def test_alcohols_of_95_and_50_per_cent_by_four_to_five_make_one_of_70_per_cent() -> None:
    # Ansel, Pharmaceutical Calculations, alligation alternate: 20 parts of 95% and 25 of 50% (from memory).
    parts = parts_of([Measured(PAINT, 4000), Measured(MEDIUM, 5000)], Basis.VOLUME)
    strengths = [Part(PAINT, parts[0], water_share=50_000), Part(MEDIUM, parts[1], water_share=500_000)]
    assert Recipe(tuple(strengths)).water_share == 300_000


def test_one_volume_and_four_volumes_are_a_fifth() -> None:
    # ISO 78-2, "dilution V1 + V2": one volume of the reagent added to four of the solvent (from memory).
    parts = parts_of([Measured(PAINT, 1000), Measured(WATER, 4000)], Basis.VOLUME)
    assert (
        amounts_for(1_000_000, [Part(n, part) for n, part in enumerate(parts)], Basis.VOLUME)[0].volume
        == 200_000
    )


def test_two_per_cent_are_two_millilitres_in_a_hundred_of_the_finished_cup() -> None:
    # United States Pharmacopeia, General Notices 8.140: % v/v is millilitres in 100 mL of the solution (from memory).
    parts = parts_of(one_to_two_to_a_half(Measured(OIL, 20_000, PERCENT)), Basis.VOLUME)
    cup = amounts_for(100_000, [Part(n, part) for n, part in enumerate(parts)], Basis.VOLUME)
    assert [each.volume for each in cup] == [28_000, 56_000, 14_000, 2_000]


def test_a_drop_is_that_of_the_pharmacopeial_dropper() -> None:
    # United States Pharmacopeia 32, chapter 1101: each drop of water weighs between 45 and 55 mg.
    assert 45 <= USUAL_DROP <= 55


def test_three_drops_of_a_twentieth_of_a_millilitre_are_015_ml_in_100() -> None:
    parts = parts_of(one_to_two_to_a_half(Measured(OIL, 3000, DROPS)), Basis.VOLUME, drop=50)
    cup = amounts_for(100_000, [Part(n, part) for n, part in enumerate(parts)], Basis.VOLUME)
    assert cup[3].volume == 150
    assert cup[0].volume == pytest.approx(99_850 * 2 / 7, abs=1)


@given(paint=amounts, medium=amounts, water=amounts, percent=st.integers(100, 400_000), drops=amounts)
def test_shares_add_up_and_the_parts_keep_their_ratio(
    paint: int, medium: int, water: int, percent: int, drops: int
) -> None:
    plain = [Measured(PAINT, paint), Measured(MEDIUM, medium), Measured(WATER, water)]
    parts = parts_of(
        [*plain, Measured(OIL, percent, PERCENT), Measured(5, drops, DROPS)], Basis.VOLUME, drop=50
    )
    assert parts[0] * medium == parts[1] * paint
    assert parts[1] * water == parts[2] * medium
    *_rest, oil, dripped = shares(parts)
    rounding = Fraction(3, sum(parts))
    assert abs(oil - Fraction(percent, 1_000_000)) <= rounding
    assert abs(dripped - Fraction(drops * 50, 10**8)) <= rounding


@given(
    paint=amounts,
    medium=amounts,
    percent=st.integers(0, 300_000),
    drops=st.integers(1000, 20_000),
    density=st.tuples(densities, densities, densities, densities),
)
def test_by_weight_drops_keep_their_share_of_the_volume_and_per_cent_that_of_the_mass(
    paint: int, medium: int, percent: int, drops: int, density: tuple[int, int, int, int]
) -> None:
    ratio = [
        Measured(PAINT, paint, PARTS, density[0]),
        Measured(MEDIUM, medium, PARTS, density[1]),
        Measured(OIL, drops, DROPS, density[2]),
    ]
    if percent:
        ratio.append(Measured(5, max(percent, 1000), PERCENT, density[3]))
    parts = parts_of(ratio, Basis.MASS, drop=50)
    volumes = [Fraction(part, each.density or 1) for part, each in zip(parts, ratio, strict=True)]
    slack = Fraction(1, 10_000) * max(Fraction(1), Fraction(20_000, sum(parts)))
    assert abs(volumes[2] / sum(volumes) - Fraction(drops * 50, 10**8)) <= slack
    if percent:
        assert abs(shares(parts)[3] - Fraction(max(percent, 1000), 1_000_000)) <= slack


def test_additives_that_leave_no_room_are_refused() -> None:
    with pytest.raises(MixingError):
        parts_of([Measured(PAINT, 1000), Measured(OIL, 1_000_000, PERCENT)], Basis.VOLUME)
    with pytest.raises(MixingError):
        parts_of([Measured(OIL, 3000, DROPS)], Basis.VOLUME)


def test_drops_by_weight_need_every_density() -> None:
    ratio = [Measured(PAINT, 1000, PARTS, None), Measured(OIL, 3000, DROPS, 960_000)]
    with pytest.raises(DensityNeededError):
        parts_of(ratio, Basis.MASS)


@pytest.mark.parametrize(
    ("text", "read"),
    [
        ("1 : 2 : ½", [(Role.PAINT, 1000, PARTS), (Role.MEDIUM, 2000, PARTS), (Role.WATER, 500, PARTS)]),
        ("1:1 1/2", [(Role.PAINT, 1000, PARTS), (Role.MEDIUM, 1500, PARTS)]),
        ("1 : 0 : 0.25", [(Role.PAINT, 1000, PARTS), (Role.WATER, 250, PARTS)]),
        (
            "1:2 + 3 drops",
            [(Role.PAINT, 1000, PARTS), (Role.MEDIUM, 2000, PARTS), (Role.ADDITIVE, 3000, DROPS)],
        ),
        (
            "1:2+1.5%",
            [(Role.PAINT, 1000, PARTS), (Role.MEDIUM, 2000, PARTS), (Role.ADDITIVE, 15_000, PERCENT)],
        ),
    ],
)
def test_a_ratio_is_read_as_it_is_written(text: str, read: list[tuple[Role, int, RatioUnit]]) -> None:
    parts = read_notation(text, decimal_comma=False)
    assert parts == [RolePart(*each) for each in read]
    assert read_notation(notation(parts), decimal_comma=False) == parts


@pytest.mark.parametrize("text", ["1:1,5:0,25", "1 : 1.5 : 0.25"])
@pytest.mark.parametrize("decimal_comma", [True, False])
def test_a_ratio_has_no_thousands_so_that_either_mark_is_a_decimal_one(
    text: str, decimal_comma: bool
) -> None:
    parts = read_notation(text, decimal_comma=decimal_comma)
    assert [part.amount for part in parts] == [1000, 1500, 250]


def test_one_drop_is_one_drop() -> None:
    assert read_amount("1 drop", decimal_comma=True) == (1000, DROPS)
    assert notation([RolePart(Role.PAINT, 1000), RolePart(Role.ADDITIVE, 1000, DROPS)]) == "1 + 1 drop"


@pytest.mark.parametrize(
    "text", ["", "2", "1:2:3:4:5", "1 : two", "1:2 + some oil", "1:2 + 3 ml", "1:-2", "1:0.0001"]
)
def test_what_is_no_ratio_is_refused(text: str) -> None:
    with pytest.raises(InputError):
        read_notation(text, decimal_comma=False)
