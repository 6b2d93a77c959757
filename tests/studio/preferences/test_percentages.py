"""Typed percentages are read by the one reader of numbers: ASCII digits, one decimal mark, exact millionths."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.errors import InputError
from studio.preferences.formatting import read_percent


@pytest.mark.parametrize(
    ("text", "comma", "millionths"),
    [
        ("20", False, 200_000),
        ("20%", False, 200_000),
        ("20 %", False, 200_000),
        (" 2.9 % ", False, 29_000),
        ("2,9", True, 29_000),
        ("0", False, 0),
        ("100", False, 1_000_000),
        (".5", False, 5_000),
        ("12.3456", False, 123_456),
    ],
)
def test_it_reads_a_percentage_into_millionths(text: str, comma: bool, millionths: int) -> None:
    assert read_percent(text, decimal_comma=comma) == millionths


@pytest.mark.parametrize(
    "text",
    [
        "",
        "2.²",
        "20.٥",
        "٢٠",
        "２０",
        "½",
        "1/2",
        "-1",
        "+1",
        "1e2",
        "101",
        "2.34567",
        "20%%",
        "a",
        "1.000,5",
        "nan",
    ],
)
def test_it_refuses_what_is_no_plain_percentage(text: str) -> None:
    with pytest.raises(InputError):
        read_percent(text, decimal_comma=False)


@given(st.text(max_size=12), st.booleans())
def test_whatever_is_typed_is_read_exactly_or_refused_in_words(text: str, comma: bool) -> None:
    try:
        millionths = read_percent(text, decimal_comma=comma)
    except InputError:
        pass
    else:
        assert 0 <= millionths <= 1_000_000
        assert text.isascii() or not any(
            character.isdecimal() and not character.isascii() for character in text
        )


@given(st.integers(0, 1_000_000), st.booleans())
def test_what_is_written_is_read_back(millionths: int, comma: bool) -> None:
    whole, rest = divmod(millionths, 10_000)
    assert read_percent(f"{whole}{',' if comma else '.'}{rest:04d} %", decimal_comma=comma) == millionths
