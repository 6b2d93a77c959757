"""Lists as files: no text runs as a formula, numbers stay numbers."""

import csv
from datetime import date
from decimal import Decimal
from io import StringIO

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.pages.exports import Cell, csv_text, file_answer, money_cell
from studio.values.cell_text import FORMULA_SIGNS, safe_text, without_apostrophe
from tests.making import money


@pytest.mark.parametrize(
    "name",
    [
        "=HYPERLINK(0)",
        "+44 20",
        "-2+3",
        "@SUM(A1)",
        "\t=1",
        "\r=1",
        "\n=1",
        "  =1+1",
        "\u00a0=1+1",
        "＝1+1",
        "\0=1",
        "\u200b=1+1",
        "\ufeff@SUM(A1)",
        " \u2060\u200e\u3000-2+3",
        "\u034f\ufe0f+44",
        "\u3164=1",
        "\x1b\x7f=1",
    ],
)
def test_text_that_begins_like_a_formula_stands_behind_an_apostrophe(name: str) -> None:
    """OWASP Application Security Verification Standard 5.0, requirement 1.2.10: = + - @ tab and null are escaped with
    a single quote where they come first; the carriage return, line feed and full-width signs from memory."""
    assert safe_text(name) == "'" + name.replace("\0", "")


@pytest.mark.parametrize(
    "name", ["Low water", "\u200bLow = 2", "2 + 2", "a=b", "'quoted", "", "Тихая вода", '<b>"&</b>']
)
def test_other_text_stays_as_it_is(name: str) -> None:
    assert safe_text(name) == name


@given(st.text())
def test_no_cell_ever_begins_with_a_formula_sign(text: str) -> None:
    assert not safe_text(text).lstrip(" \u00a0").startswith(FORMULA_SIGNS)


@given(st.text(st.characters(exclude_characters="\0")))
def test_what_was_made_safe_is_read_back_as_it_was(text: str) -> None:
    assert without_apostrophe(safe_text(text)) == text or text.startswith("'")


@given(st.lists(st.text(alphabet=st.characters(exclude_characters="\0", codec="utf-8")), min_size=1))
def test_every_text_comes_back_from_the_file_as_one_cell(row: list[str]) -> None:
    """RFC 4180, section 2: a field with commas, quotes or line breaks stands in quotes, its quotes doubled."""
    ((*read,),) = list(csv.reader(StringIO(csv_text(row, []), newline="")))
    assert read == [safe_text(text) for text in row]


def test_text_is_quoted_so_that_no_half_of_it_becomes_a_cell() -> None:
    """A spreadsheet that splits at semicolons would read the second half of an unquoted text as a formula."""
    assert csv_text(["title"], [["Ebb;=1+1"]]).splitlines()[1] == '"Ebb;=1+1"'


def test_numbers_stay_numbers_even_below_zero() -> None:
    row: list[Cell] = [Decimal("-12.50"), -3, 7, None, date(2026, 3, 12)]
    assert csv_text(["a"], [row]).splitlines()[1] == '-12.50,-3,7,"","2026-03-12"'


@pytest.mark.parametrize(
    ("amount", "currency", "written"),
    [
        ("45", "GBP", "45.00"),
        ("-0.125", "GBP", "-0.13"),
        ("1250.5", "JPY", "1251"),
        ("1.2345", "KWD", "1.235"),
    ],
)
def test_money_is_written_in_the_currencys_own_decimals(amount: str, currency: str, written: str) -> None:
    """ISO 4217: two decimals for GBP, none for JPY, three for KWD."""
    assert str(money_cell(money(amount), currency)) == written


def test_no_money_is_an_empty_cell() -> None:
    assert money_cell(None, "GBP") is None


def test_the_answer_is_a_file_in_utf_8() -> None:
    answer = file_answer("csv", "sales", ["title"], [["Тихая вода"]])
    assert answer["Content-Type"] == "text/csv; charset=utf-8"
    assert answer["Content-Disposition"] == 'attachment; filename="sales.csv"'
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer.content.startswith(b"\xef\xbb\xbf")  # the mark by which a spreadsheet knows UTF-8
    assert "Тихая вода" in answer.content.decode("utf-8-sig")
