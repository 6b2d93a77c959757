"""Figures and days that could be read in two ways: the table tells which, or they are refused, never guessed."""

from datetime import date

import pytest

from inventory.ledger.models import Lot
from inventory.materials.models import Material
from studio.imports.checking import RowState
from studio.imports.headings import EITHER, day_order_of
from studio.imports.reading import Line
from studio.preferences.models import Studio
from tests.making import make_material, money, units
from tests.studio.imports.making import book, checked, imported, opened, problems_of

pytestmark = pytest.mark.django_db
HEAD = "Material;Amount left;Cost;Stock as of\n"


@pytest.fixture(autouse=True)
def paint() -> Material:
    return make_material(name="Ebb Blue")


def use_locale(locale: str) -> None:
    studio = Studio.current()
    studio.locale = locale
    studio.save()


def row(amount: str, cost: str = "3", day: str = "") -> str:
    return f"Ebb Blue;{amount};{cost};{day}\n"


@pytest.mark.parametrize(
    ("locale", "amount", "beside", "read"),
    [
        ("en_GB", "1.250 ml", "3", None),  # a thousand, in a table from elsewhere
        ("en_GB", "1.250 ml", "3.50", "1.25"),
        ("en_GB", "1.250 ml", "3,50", "1250"),
        ("en_GB", "1,250 ml", "3", "1250"),
        ("en_GB", "1.2500 ml", "3", "1.25"),
        ("en_GB", "0.250 l", "3", "250"),
        ("de_DE", "1,250 ml", "3", None),
        ("de_DE", "1,250 ml", "3,50", "1.25"),
        ("de_DE", "1.250 ml", "3", "1250"),
        ("de_DE", "12,5 cl", "3", "125"),
        ("en_GB", "1/2 l", "3", "500"),
    ],
)
def test_three_digits_behind_a_mark_are_read_as_the_rest_of_the_table_tells(
    locale: str, amount: str, beside: str, read: str | None
) -> None:
    use_locale(locale)
    (found,) = checked("opening-stock", HEAD + row(amount, beside))
    if read is None:
        assert [key for key, _text in problems_of(found)] == ["quantity"]
        return
    assert imported("opening-stock", HEAD + row(amount, beside)).saved == 1
    assert Lot.objects.get().balance.quantity == units(read)


@pytest.mark.parametrize("amount", ["1.250 ml", "1,250 ml"])
def test_a_table_with_decimals_behind_both_marks_tells_nothing(amount: str) -> None:
    (found, _other) = checked("opening-stock", HEAD + row(amount, "3.50") + row("12,5 ml", "4"))
    assert "quantity" in {key for key, _text in problems_of(found)}


def test_a_number_of_a_workbook_is_no_thousand() -> None:
    raw = book([["Material", "Amount left (l)", "Cost"], ["Ebb Blue", 1.125, 3]])
    assert imported("opening-stock", raw).saved == 1
    assert Lot.objects.get().balance.quantity == units(1125)


def test_numbers_of_a_workbook_are_written_as_its_texts_write_theirs() -> None:
    rows: list[list[object]] = [
        ["Material", "Amount left", "Cost"],
        ["Ebb Blue", "500 ml", 18.29],
        ["Ebb Blue", "400 ml", "5,38"],
    ]
    assert imported("opening-stock", book(rows)).saved == 2
    assert [lot.balance.money for lot in Lot.objects.order_by("pk")] == [money("18.29"), money("5.38")]


@pytest.mark.parametrize("amount", ["8oz", "8 oz.", "½ ounce"])
def test_an_ounce_of_paint_is_asked_about(amount: str) -> None:
    (found,) = checked("opening-stock", HEAD + row(amount))
    assert [key for key, _text in problems_of(found)] == ["quantity"]


@pytest.mark.parametrize("amount", ["8 fl oz", "8 fl. oz", "8floz", "8 fluid ounces"])
def test_a_fluid_ounce_is_none(amount: str) -> None:
    (found,) = checked("opening-stock", HEAD + row(amount))
    assert found.state is RowState.NEW


@pytest.mark.parametrize("amount", ["-5 ml", "50%", "ca. 300 ml", "300 ml (half)"])
def test_what_is_no_amount_is_refused(amount: str) -> None:
    (found,) = checked("opening-stock", HEAD + row(amount))
    assert [key for key, _text in problems_of(found)] == ["quantity"]


@pytest.mark.parametrize("cost", ["-3", "(3.00)", "3-", "£3.20 each", "£3.20/bottle", "12%", "3.999"])
def test_what_is_no_cost_is_refused(cost: str) -> None:
    (found,) = checked("opening-stock", HEAD + row("300 ml", cost))
    assert [key for key, _text in problems_of(found)] == ["cost"]


@pytest.mark.parametrize(
    ("usual", "cells", "order"),
    [
        ("dmy", ["3/4/2026"], "dmy"),
        ("mdy", ["3/4/2026"], "mdy"),
        ("mdy", ["3/4/2026", "13/4/2026"], "dmy"),
        ("dmy", ["3/4/2026", "4/13/26"], "mdy"),
        ("mdy", ["3.11.25"], "dmy"),
        ("dmy", ["13/4/2026", "4/13/2026"], EITHER),
        ("ymd", ["13/4/2026"], "ymd"),
        ("mdy", ["2026-04-13", "1.5"], "mdy"),
    ],
)
def test_the_days_of_a_table_tell_their_order(usual: str, cells: list[str], order: str) -> None:
    assert day_order_of([Line(number, (cell,)) for number, cell in enumerate(cells)], usual=usual) == order


def test_a_table_with_the_day_first_is_read_so_in_a_studio_that_puts_the_month_first() -> None:
    use_locale("en_US")
    text = HEAD + row("300 ml", day="3/4/2025") + row("200 ml", day="13/4/2025")
    assert len(opened("opening-stock", text).notes) == 1
    imported("opening-stock", text)
    days = Lot.objects.order_by("received_on").values_list("received_on", flat=True)
    assert list(days) == [date(2025, 4, 3), date(2025, 4, 13)]


def test_where_both_orders_stand_a_day_that_may_be_two_is_refused() -> None:
    text = HEAD + "".join(row(f"{n}00 ml", day=day) for n, day in enumerate(
        ["3/4/2025", "13/4/2025", "4/13/2025", "5/5/2025"], start=1))  # fmt: skip
    states = [found.state for found in checked("opening-stock", text)]
    assert states == [RowState.WRONG, RowState.NEW, RowState.NEW, RowState.NEW]
