"""How much is left, as it is drawn."""

import pytest

from studio.pages.beakers import beaker


@pytest.mark.parametrize(
    ("percent", "boards"), [(0, 0), (1, 1), (20, 1), (21, 2), (60, 3), (61, 4), (81, 5), (100, 5)]
)
def test_a_stack_shows_a_board_for_every_fifth_that_is_begun(percent: int, boards: int) -> None:
    drawn = beaker(percent, "4", vessel="stack")
    assert drawn.count("stack-board") - drawn.count("is-gone") == boards


def test_an_empty_beaker_has_no_liquid_and_a_full_one_stands_at_the_top() -> None:
    assert "beaker-meniscus" not in beaker(0, "0 mL", colour="#1f5f6b")
    full = beaker(100, "1 L", colour="#1f5f6b")
    assert 'translate(0 -44)"><g fill="#1f5f6b">' in full


def test_what_is_low_says_so_in_a_word_and_is_hatched_where_its_colour_is_not_known() -> None:
    drawn = beaker(10, "20 mL", low=True)
    assert "url(#mark-low)" in drawn
    assert "Low" in drawn
    assert "Low" not in beaker(10, "20 mL")


def test_words_beside_a_level_are_never_markup() -> None:
    assert "&lt;b&gt; &amp;" in beaker(50, "<b> &", note="<i>")
    assert "<i>" not in beaker(50, "<b> &", note="<i>")
