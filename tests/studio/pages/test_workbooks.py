"""Lists as workbooks: typed cells, and no cell that could ever be a formula."""

import re
import zipfile
from datetime import date, datetime
from decimal import Decimal
from io import BytesIO
from typing import Any

import pytest
from django.urls import reverse
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import load_workbook

from studio.accounts.models import User
from studio.pages.exports import Cell, file_answer
from studio.pages.workbooks import workbook
from tests.inventory.browsing import as_user
from tests.making import make_delivery, make_lot, make_material, money, units
from tests.studio.pages.test_tables import LISTS


def sheet_of(content: bytes) -> Any:
    return load_workbook(BytesIO(content))["sales"]


def xml_of(content: bytes) -> str:
    """Everything in the file as its XML stands, without the library that wrote it."""
    with zipfile.ZipFile(BytesIO(content)) as archive:
        return "".join(archive.read(name).decode() for name in archive.namelist() if name.endswith(".xml"))


MOMENT, DAY = datetime.fromisoformat("2026-03-12T09:30"), datetime.fromisoformat("2026-03-12")
HOSTILE = ["=1+1", "+44 20", "-2+3", "@SUM(A1)", "\t=1", "  =HYPERLINK(0)", "＝1+1", "#REF!", "=", "{=1}"]


@pytest.mark.parametrize("text", HOSTILE)
def test_text_stays_text_whatever_it_begins_with(text: str) -> None:
    content = workbook("sales", [text], [[text]])
    for cell in (sheet_of(content)["A1"], sheet_of(content)["A2"]):
        assert (cell.data_type, cell.value) == ("s", text)
    assert not re.search(r"<f[ >]", xml_of(content))


@settings(max_examples=30)
@given(
    st.lists(
        st.one_of(st.text(max_size=40), st.integers(), st.decimals(-(10**9), 10**9, places=2)), min_size=1
    )
)
def test_no_cell_is_ever_a_formula(row: list[Cell]) -> None:
    content = workbook("sales", ["title"], [row])
    assert {cell.data_type for cell in sheet_of(content)[2]} <= {"s", "n", "inlineStr"}
    assert not re.search(r"<f[ >/]", xml_of(content))


def test_text_that_looks_like_a_formula_is_marked_so_that_editing_it_makes_none() -> None:
    """Office Open XML (ISO/IEC 29500-1), section 18.8.45: quotePrefix."""
    sheet = sheet_of(workbook("sales", ["title"], [["=1+1"], ["Ebb"]]))
    assert [sheet["A2"].quotePrefix, sheet["A3"].quotePrefix] == [True, False]


def test_numbers_days_and_moments_are_typed() -> None:
    row: list[Cell] = [Decimal("-12.50"), 3, None, date(2026, 3, 12), MOMENT, 10**17]
    cells = sheet_of(workbook("sales", list("abcdef"), [row]))[2]
    assert [cell.value for cell in cells] == [
        -12.5, 3, None, DAY, MOMENT, str(10**17)
    ]  # fmt: skip
    assert [cell.number_format for cell in cells[:1] + cells[3:5]] == [
        "0.00", "yyyy-mm-dd", "yyyy-mm-dd hh:mm"
    ]  # fmt: skip


def test_a_day_before_the_calendar_of_workbooks_is_a_text() -> None:
    assert sheet_of(workbook("sales", ["day"], [[date(1850, 1, 2)]]))["A2"].value == "1850-01-02"


def test_the_headings_are_bold_and_stay_in_sight_and_columns_are_wide_enough() -> None:
    sheet = sheet_of(workbook("sales", ["Title", "n"], [["A long title of twenty-nine"], ["x" * 500]]))
    assert sheet["A1"].font.bold
    assert not sheet["A2"].font.bold
    assert sheet.freeze_panes == "A2"
    assert [sheet.column_dimensions[letter].width for letter in "AB"] == [60, 8]


def test_what_no_workbook_may_hold_is_left_out() -> None:
    assert sheet_of(workbook("sales", ["title"], [["Ebb\0\x1f tide"]]))["A2"].value == "Ebb tide"


def test_the_answer_is_a_workbook() -> None:
    answer = file_answer("xlsx", "sales", ["title"], [])
    assert answer["Content-Disposition"] == 'attachment; filename="sales.xlsx"'
    assert answer["X-Content-Type-Options"] == "nosniff"


@pytest.mark.django_db
@pytest.mark.parametrize("name", LISTS)
def test_every_long_list_comes_as_a_workbook(owner: User, name: str) -> None:
    make_lot()
    response = as_user(owner).get(reverse(name), {"export": "xlsx"})
    assert response["Content-Disposition"].endswith('.xlsx"')
    assert load_workbook(BytesIO(response.content)).active


@pytest.mark.django_db
def test_a_list_keeps_money_and_amounts_as_numbers_and_their_units_apart(owner: User) -> None:
    make_lot(material=make_material(name="=Ebb"), quantity=units("512.5"), cost=money("10.25"))
    response = as_user(owner).get(reverse("inventory:stock"), {"export": "xlsx"})
    head, row = load_workbook(BytesIO(response.content)).active.iter_rows(values_only=True)  # type: ignore[union-attr]
    found = dict(zip(head, row, strict=True))
    assert found["Material"] == "=Ebb"
    assert (found["In stock"], found["In stock, unit"], found["Value (GBP)"]) == (512.5, "mL", 10.25)
    assert (found["Unit cost (GBP)"], found["Unit cost, unit"]) == (0.02, "mL")


@pytest.mark.django_db
def test_the_days_of_a_list_are_days(owner: User) -> None:
    make_delivery(lines=[(make_material(), units(500), money(5))])
    response = as_user(owner).get(reverse("inventory:deliveries"), {"export": "xlsx"})
    book: Any = load_workbook(BytesIO(response.content))
    cells = [cell for cell in list(book.active)[1] if cell.is_date]
    assert cells
    assert {cell.number_format for cell in cells} == {"yyyy-mm-dd"}
