"""Pasted prices in another currency are never read as the studio's own."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from inventory.materials.written_lines import read_line
from tests.making import make_material

pytestmark = pytest.mark.django_db
ROWS = {"lines-TOTAL_FORMS": "1", "lines-INITIAL_FORMS": "0", "do": "read", "on": "2025-06-10"}


def read(client: Client, name: str, lines: str, **more: str) -> Any:
    make_material(name="Marram")
    data = {"received_on": "2025-06-10", "written-lines": lines, **ROWS, **more}
    return client.post(reverse(name), data)


@pytest.mark.parametrize(
    ("text", "sign"),
    [
        ("Marram 120 ml €5.20 x3", "€"),
        ("Marram 120 ml 5,20 EUR", "EUR"),
        ("Marram 120 ml usd 5.20", "USD"),
        ("2 Marram 120 ml à 5,20€", "€"),
        ("Marram 120 ml 5.20", ""),
        ("Eurydice 120 ml £5.20", "£"),
    ],
)
def test_the_currency_beside_a_figure_is_kept(text: str, sign: str) -> None:
    assert read_line(text).sign == sign


@pytest.mark.parametrize("name", ["inventory:delivery-new", "inventory:opening-stock"])
@pytest.mark.parametrize("line", ["Marram 120 ml €5.20", "Marram 120 ml $5.20", "Shipping 4,95 EUR"])
def test_lines_in_another_currency_are_kept_and_not_read(signed: Client, name: str, line: str) -> None:
    page = read(signed, name, line)
    written = page.context["written"]
    assert page.status_code == 422
    assert line in str(written.errors["lines"])
    assert written["lines"].value() == line
    assert "5.20" not in [
        row["price" if "price" in row.fields else "cost"].value() for row in page.context["formset"]
    ]


def test_they_are_read_once_the_invoice_is_in_that_currency(signed: Client) -> None:
    page = read(signed, "inventory:delivery-new", "Marram 120 ml €5.20 each x3", currency="EUR", rate="0.86")
    assert page.status_code == 200
    assert page.context["formset"][0]["price"].value() == "15.60"


def test_the_studios_own_currency_is_another_on_a_foreign_invoice(signed: Client) -> None:
    refused = read(signed, "inventory:delivery-new", "Marram 120 ml £5.20", currency="EUR", rate="0.86")
    assert "currency of this invoice" in str(refused.context["written"].errors["lines"])
