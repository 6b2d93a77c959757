"""How many pours at most: the whole-number programme against counting through every choice, and by hand."""

from fractions import Fraction
from itertools import product
from math import ceil
from random import Random

import pytest

from inventory.recipes.calculations import Basis, DensityNeededError, Part, Recipe, RecipeCycleError, expand
from inventory.sessions import most_pours as programme
from inventory.sessions.most_pours import (
    GRACE,
    PourLine,
    Shelf,
    how_often,
    in_proportion,
    most_pours,
    these_first,
    together,
)
from studio.values.units import Measure

ML = 1_000
PLENTY = 60.0  # seconds
PAINT, MEDIUM, GLUE, WATER, COLOUR, BOARD, ROUND = range(1, 8)
# Paint 1 : medium 1, the medium 2 glue : 1 water (common practice, no source).
RECIPES = {MEDIUM: Recipe((Part(GLUE, 2), Part(WATER, 1))), COLOUR: Recipe((Part(PAINT, 1), Part(MEDIUM, 1)))}


@pytest.fixture(autouse=True)
def unhurried(monkeypatch: pytest.MonkeyPatch) -> None:
    """The answers are looked at, not how soon they come: a busy machine would cut the search for them short."""
    monkeypatch.setattr(programme, "SECONDS_FOR_AREA", PLENTY)
    monkeypatch.setattr(programme, "SECONDS_TO_FILL", PLENTY)


def boards(count: int, millilitres: int, *, of: int = PAINT, area: int = 1) -> PourLine:
    return PourLine(count, area * ML, {of: Fraction(millilitres * ML)})


LARGE, SMALL = boards(10, 80, area=2), boards(10, 40)
LITRE = Shelf({PAINT: 1000 * ML}, {})


def mixed_shelf(**held: int) -> Shelf:
    amounts = {"paint": PAINT, "medium": MEDIUM, "glue": GLUE, "colour": COLOUR}
    return Shelf({WATER: None, **{amounts[name]: amount for name, amount in held.items()}}, RECIPES)


def test_ten_boards_at_80_ml_and_ten_at_40_from_a_litre_are_17_pours_at_most() -> None:
    """By hand: ten small ones take 400 mL, and 600 are left for seven large ones. 8 + 9 are 17 of more area."""
    most = most_pours([LARGE, SMALL], LITRE)
    assert (most.total, most.counts, most.is_proven) == (17, (8, 9), True)


def test_in_proportion_the_litre_makes_eight_of_each_and_one_small_one_more() -> None:
    even = in_proportion([LARGE, SMALL], LITRE)
    assert even == (8, 8)
    assert most_pours([LARGE, SMALL], LITRE, at_least=even).counts == (8, 9)


def test_lines_that_come_first_are_poured_first() -> None:
    assert these_first([LARGE, SMALL], LITRE) == (10, 5)
    assert these_first([SMALL, LARGE], LITRE) == (10, 7)


@pytest.mark.parametrize(("glue", "pours"), [(319_990, 17), (319_989, 16)])
def test_a_hundredth_of_a_millilitre_too_little_is_enough_and_a_thousandth_less_is_not(
    glue: int, pours: int
) -> None:
    """17 pours take 960 mL of colour, so 480 of medium and 320 of glue."""
    lines = [boards(10, 80, of=COLOUR, area=2), boards(10, 40, of=COLOUR)]
    most = most_pours(lines, mixed_shelf(paint=9000 * ML, glue=glue))
    assert (most.total, most.is_proven) == (pours, True)


def test_what_is_mixed_already_is_used_first() -> None:
    line = [boards(20, 200, of=COLOUR)]
    # Each takes 100 mL of paint and of medium. 200 of glue make 300 of medium: three. 250 more made: five.
    assert most_pours(line, mixed_shelf(paint=1000 * ML, glue=200 * ML)).counts == (3,)
    assert most_pours(line, mixed_shelf(paint=1000 * ML, glue=200 * ML, medium=250 * ML)).counts == (5,)
    assert most_pours(line, mixed_shelf(paint=1000 * ML, medium=2000 * ML)).counts == (10,)
    assert most_pours(line, mixed_shelf(colour=400 * ML)).counts == (2,)
    assert most_pours(line, mixed_shelf()).counts == (0,)


def test_when_the_shelf_covers_everything_all_of_it_is_poured() -> None:
    assert most_pours([LARGE, SMALL], Shelf({PAINT: 1200 * ML}, {})).counts == (10, 10)


def test_lines_that_are_not_short_of_anything_are_poured_whole() -> None:
    other = PourLine(9, ML, {BOARD: Fraction(9 * ML)})
    most = most_pours([LARGE, other, SMALL], Shelf({PAINT: 1000 * ML, BOARD: 81 * ML}, {}))
    assert (most.counts, most.bound) == ((8, 9, 9), 26)


def test_surfaces_limit_too() -> None:
    lines = [
        PourLine(5, ML, {BOARD: Fraction(1000), PAINT: Fraction(50 * ML)}),
        PourLine(5, ML, {ROUND: Fraction(1000), PAINT: Fraction(50 * ML)}),
    ]
    most = most_pours(lines, Shelf({BOARD: 3000, ROUND: 9000, PAINT: 350 * ML}, {}))
    assert most.total == 7
    assert most.counts[0] <= 3


def test_beyond_what_was_asked_a_need_is_covered_so_often() -> None:
    assert how_often(LARGE.each, LITRE) == 12
    assert how_often(LARGE.each, Shelf({PAINT: 79 * ML}, {})) == 0
    assert how_often({WATER: Fraction(ML)}, mixed_shelf()) is None
    assert (
        how_often({COLOUR: Fraction(200 * ML)}, mixed_shelf(paint=1000 * ML, glue=200 * ML, medium=250 * ML))
        == 5
    )


def test_recipes_by_mass_and_parts_counted_by_mass_are_turned_exactly() -> None:
    """3 g of a powder of 1.5 g/mL are 2 mL; with 2 mL of water they make 4 mL weighing 5 g."""
    parts = (Part(1, 3, 1_500_000, Measure.MASS), Part(2, 2, 1_000_000))
    assert Recipe(parts, Basis.MASS).ingredients == {1: Fraction(3, 4), 2: Fraction(2, 4)}
    assert Recipe(parts, Basis.MASS, Measure.MASS).ingredients == {1: Fraction(3, 5), 2: Fraction(2, 5)}
    by_volume = (Part(1, 1, 1_500_000, Measure.MASS), Part(2, 1, 1_000_000))
    assert Recipe(by_volume).ingredients == {1: Fraction(3, 4), 2: Fraction(1, 2)}
    assert Recipe(by_volume, measure=Measure.MASS).ingredients == {1: Fraction(3, 5), 2: Fraction(2, 5)}


def test_a_missing_density_and_a_circle_are_named() -> None:
    with pytest.raises(DensityNeededError):
        how_often({MEDIUM: Fraction(1)}, Shelf({}, {MEDIUM: Recipe((Part(GLUE, 1, None, Measure.MASS),))}))
    circle = {MEDIUM: Recipe((Part(COLOUR, 1),)), COLOUR: Recipe((Part(MEDIUM, 1),))}
    with pytest.raises(RecipeCycleError):
        how_often({MEDIUM: Fraction(1)}, Shelf({}, circle))


def random_case(chance: Random) -> tuple[list[PourLine], Shelf]:
    """Up to four lines over up to three bought materials and two mixes, the second of which may hold the first."""
    bought, mixes = range(1, chance.randint(2, 4)), [11, 12]
    recipes = {
        mix: Recipe(
            tuple(
                Part(material, chance.randint(1, 5))
                for material in chance.sample([*bought, *(mixes[:place] if chance.random() < 0.6 else [])], 1)
                + ([9] if chance.random() < 0.5 else [])
            )
        )
        for place, mix in enumerate(mixes)
    }
    lines = [
        PourLine(
            chance.randint(1, 5),
            chance.randint(1, 9) * ML,
            {
                material: Fraction(chance.randint(1, 200 * ML), chance.choice([1, 1, 3, 7]))
                for material in chance.sample([*bought, *mixes], chance.randint(1, 2))
            },
        )
        for _ in range(chance.randint(1, 4))
    ]
    held: dict[int, int | None] = {material: chance.randint(0, 900 * ML) for material in bought}
    if chance.random() < 0.5:
        held |= {mix: chance.randint(0, 200 * ML) for mix in mixes}
    return lines, tight(Shelf({**held, 9: None}, recipes), lines, chance)


def tight(shelf: Shelf, lines: list[PourLine], chance: Random) -> Shelf:
    """In half of the cases a bought material is held to the thousandth that some choice of pours takes."""
    if chance.random() < 0.5:
        return shelf
    counts = [chance.randint(0, line.count) for line in lines]
    for material, quantity in shelf.bought(together(lines, counts)).items():
        if shelf.held.get(material) is not None:
            lacking = int(quantity) - GRACE + chance.choice([-1, 0, 1])
            return Shelf({**shelf.held, material: max(lacking, 0)}, shelf.recipes)
    return shelf


def by_enumeration(lines: list[PourLine], shelf: Shelf) -> tuple[int, int]:
    """The most pours and the largest area of so many, from every choice there is."""
    return max(
        (sum(counts), sum(line.area * count for line, count in zip(lines, counts, strict=True)))
        for counts in product(*(range(line.count + 1) for line in lines))
        if shelf.covers(together(lines, counts))
    )


def test_a_thousand_random_cases_agree_with_counting_through_every_choice() -> None:
    chance = Random(20)
    limited = 0
    for number in range(1000):
        lines, shelf = random_case(chance)
        most = most_pours(lines, shelf, seconds=PLENTY)
        area = sum(line.area * count for line, count in zip(lines, most.counts, strict=True))
        assert (most.total, area) == by_enumeration(lines, shelf), f"case {number}"
        assert most.is_proven
        assert shelf.covers(together(lines, most.counts))
        limited += most.total < sum(line.count for line in lines)
    assert limited > 500


def test_random_proportions_and_orders_are_covered_and_one_more_is_not() -> None:
    chance = Random(21)
    for _ in range(300):
        lines, shelf = random_case(chance)
        even, first = in_proportion(lines, shelf), these_first(lines, shelf)
        shares = sorted({Fraction(n, line.count) for line in lines for n in range(line.count + 1)})
        brute = max(
            (tuple(ceil(share * line.count) for line in lines) for share in shares),
            key=lambda counts: sum(counts) if shelf.covers(together(lines, counts)) else -1,
        )
        assert even == brute
        for place, line in enumerate(lines):
            more = [*first[:place], first[place] + 1, *([0] * (len(lines) - place - 1))]
            assert first[place] == line.count or not shelf.covers(together(lines, more))
        assert shelf.covers(together(lines, first))


def test_the_exact_need_lies_within_the_rounding_of_the_cups() -> None:
    """Splitting every need into whole thousandths moves it by less than a thousandth for each part and mix."""
    chance = Random(22)
    for _ in range(300):
        lines, shelf = random_case(chance)
        wanted = {
            material: round(quantity) for material, quantity in together(lines, [1] * len(lines)).items()
        }
        made = {material: held for material, held in shelf.held.items() if held and material in shelf.recipes}
        rounded = expand(wanted, shelf.recipes, made).bought
        exact = shelf.bought({material: Fraction(quantity) for material, quantity in wanted.items()})
        for material in {*rounded, *exact}:
            difference = rounded.get(material, 0) - exact.get(material, Fraction(0))
            assert abs(difference) <= 3
