"""What is written on jars and backs can be read again."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.ledger.labels import canvas_label, canvases_label, pour_label, read_canvas_label

canvases = st.integers(1, 10**9 - 1)


@given(canvas=canvases, layer=st.integers(2, 9_999))
def test_every_number_that_is_written_is_read_as_what_it_names(canvas: int, layer: int) -> None:
    assert read_canvas_label(canvas_label(canvas)) == (canvas, None)
    assert read_canvas_label(pour_label(canvas, layer).lower()) == (canvas, layer)


@given(numbers=st.sets(canvases, min_size=1, max_size=8))
def test_a_set_is_named_by_all_its_canvases_and_read_as_its_first(numbers: set[int]) -> None:
    label = canvases_label(numbers)
    named = set[int]()
    for run in label.split(", "):
        first, _dash, last = run.partition("–")
        ends = [read.canvas for read in map(read_canvas_label, (first, last or first)) if read]
        named |= set(range(ends[0], ends[-1] + 1))
    assert named == numbers
    assert read_canvas_label(label.split()[0]) == (min(numbers), None)


def test_runs_are_drawn_together() -> None:
    assert canvases_label([15, 12, 13, 14]) == "P0012–P0015"
    assert canvases_label([12, 21, 13]) == "P0012–P0013, P0021"


@pytest.mark.parametrize(
    "word", ["", "P", "P0", "P0000", "L0012", "12", "P12a", "Ebb", "P12-", "P١٢", "P0012-0x"]
)
def test_other_words_are_no_numbers(word: str) -> None:
    assert read_canvas_label(word) is None
