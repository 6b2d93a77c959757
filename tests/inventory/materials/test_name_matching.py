"""Names as people write them beside the names that the studio has."""

import pytest

from inventory.materials.name_matching import fitting, is_same_name


@pytest.mark.parametrize(
    ("words", "name"),
    [
        ("Canvas 30x30", "Canvas 30 × 30 cm"),
        ("canvas 30 x 40 x 1,8 cm", "Canvas 30cm × 40cm × 1.8cm"),
        ('Board 12" x 16"', "Board 12 x 16 in"),
        ("Round board 20cm", "Round board 20 cm"),
        ("White Sail Loft", "Sail Loft White"),
    ],
)
def test_a_size_is_the_same_however_it_is_spaced_and_whether_or_not_it_has_its_unit(
    words: str, name: str
) -> None:
    assert is_same_name(words, name)


@pytest.mark.parametrize(
    ("words", "name"),
    [
        ("Canvas 30x30 in", "Canvas 30 × 30 cm"),
        ("Canvas 30x40", "Canvas 30 × 30 cm"),
        ("Canvas 30x30", "Canvas 30 × 30 × 4 cm"),
        ("Blue 6", "Blue 66"),
        ("Medium", "Medium X"),
    ],
)
def test_another_number_unit_or_word_is_another_name(words: str, name: str) -> None:
    assert not is_same_name(words, name)


def test_some_words_fit_every_name_that_has_them_and_a_whole_name_only_its_own() -> None:
    names = {1: "Loft White", 2: "Loft White Gloss", 3: "Kelp Green"}
    assert fitting("white", names) == [1, 2]
    assert fitting("loft white", names) == [1]
