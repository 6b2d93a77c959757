"""A list declared once: what its table, its cards and its file say, and to whom."""

import pytest
from django.test import Client
from django.urls import reverse

from studio.accounts.models import User
from tests.days import TODAY
from tests.inventory.browsing import as_user, text_of
from tests.making import make_delivery, make_lot, make_material, money, units
from tests.tables import file_of, headings, table_rows

pytestmark = pytest.mark.django_db
STOCK, DELIVERIES = "inventory:stock", "inventory:deliveries"
LISTS = [
    STOCK, DELIVERIES, "inventory:orders", "inventory:sessions", "inventory:recipes", "inventory:postings",
    "inventory:stocktakes", "costing:pieces", "costing:sales", "change-log",
]  # fmt: skip


@pytest.fixture
def signed(owner: User) -> Client:
    return as_user(owner)


@pytest.mark.parametrize("name", LISTS)
def test_every_long_list_comes_as_a_file(signed: Client, name: str) -> None:
    make_lot()
    response = signed.get(reverse(name), {"export": "csv"})
    assert response["Content-Disposition"].endswith('.csv"')
    file_of(response)


def test_a_card_names_each_figure_as_the_heading_does(signed: Client) -> None:
    make_lot(material=make_material(name="Ebb Blue"), quantity=units(500), cost=money(5))
    response = signed.get(reverse(STOCK))
    (row,) = table_rows(response)
    assert row.pop("").startswith("Ebb Blue")
    assert set(row) <= set(headings(response))
    assert (row["In stock"], row["Value"]) == ("500 mL", "£5.00")
    assert "Use by" not in row  # an empty cell is left out of the card


def test_a_heading_sorts_and_says_how_it_does(signed: Client) -> None:
    for name, cost in (("A", 9), ("B", 1)):
        make_lot(material=make_material(name=name), cost=money(cost))
    response = signed.get(reverse(STOCK), {"sort": "money"})
    assert [sort for sort in headings(response).values() if sort] == ["ascending"]
    assert headings(response)["Value"] == "ascending"
    assert [row[""][0] for row in table_rows(response)] == ["B", "A"]
    assert 'href="?sort=-money"' in response.content.decode()


def test_a_file_has_every_page_and_the_filters_of_the_address(signed: Client) -> None:
    for number in range(70):  # a page of the list shows sixty
        make_material(name=f"Ebb {number:02}")
    make_material(name="Flood")
    rows = file_of(signed.get(reverse(STOCK), {"export": "csv", "search": "ebb", "page": "2"}))
    assert [row["Material"] for row in rows] == [f"Ebb {number:02}" for number in range(70)]


def test_numbers_units_and_currency_stand_apart_in_a_file(signed: Client) -> None:
    make_lot(material=make_material(name="Ebb"), quantity=units(1_250), cost=money(25))
    (row,) = file_of(signed.get(reverse(STOCK), {"export": "csv"}))
    assert (row["In stock"], row["In stock, unit"]) == ("1250", "mL")
    assert row["Value (GBP)"] == "25.00"


def test_who_sees_no_money_gets_none_in_the_file_nor_by_sorting(helper: User) -> None:
    make_delivery(lines=[(make_material(), units(500), money(5))])
    client = as_user(helper)
    (row,) = file_of(client.get(reverse(DELIVERIES), {"export": "csv"}))
    assert set(row) == {"Received", "Supplier", "Invoice", "Lines", "Status"}
    assert row["Received"] == TODAY.isoformat()
    response = client.get(reverse(DELIVERIES), {"sort": "cost"})
    assert headings(response)["Received"] == "descending"


def test_a_name_cannot_run_in_a_spreadsheet_or_on_the_page(signed: Client) -> None:
    make_material(name="=1+1 <b>")
    (row,) = file_of(signed.get(reverse(STOCK), {"export": "csv"}))
    assert row["Material"] == "'=1+1 <b>"
    assert "<b>" not in signed.get(reverse(STOCK)).content.decode()


def test_a_page_of_several_has_the_whole_total_and_calls_no_other_page_rounding(
    signed: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("costing.reports.views.PER_PAGE", 1)
    for cost in (10, 5):
        make_lot(cost=money(cost))
    words = text_of(signed.get(reverse("costing:year-end-owned"), {"day": TODAY.isoformat()}))
    assert "£15.00" in words
    assert "Rounding" not in words
