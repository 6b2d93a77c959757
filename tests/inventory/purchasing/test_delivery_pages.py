"""Delivery pages: the list, the delivery, and who may see and log them."""

import re
from datetime import date
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from studio.accounts.models import User
from tests.inventory.browsing import as_user, text_of
from tests.making import make_delivery, make_helper, make_material, make_supplier, money, take_back, units

pytestmark = pytest.mark.django_db


# The list


def test_the_list_filters_by_supplier_year_and_words(signed: Client) -> None:
    quay, mill = make_supplier(name="Limpet Colours"), make_supplier(name="Mill Lane Boards")
    make_delivery(lines=[(make_material(name="Amber"), 1000, money(1))], supplier=quay, reference="Q-1")
    make_delivery(
        lines=[(make_material(name="Plywood round"), 1000, money(2))], supplier=mill, on=date(2024, 6, 1)
    )

    def listed(query: dict[str, Any]) -> list[str]:
        page = signed.get(reverse("inventory:deliveries"), query).context["page_obj"]
        return [row.supplier.name for row in page]

    assert listed({}) == ["Limpet Colours", "Mill Lane Boards"]
    assert listed({"supplier": mill.pk}) == ["Mill Lane Boards"]
    assert listed({"year": "2025"}) == ["Limpet Colours"]
    assert listed({"search": "plywood"}) == ["Mill Lane Boards"]
    assert listed({"search": "q-1"}) == ["Limpet Colours"]
    assert listed({"sort": "cost"}) == ["Limpet Colours", "Mill Lane Boards"]
    assert listed({"sort": "nonsense", "supplier": "x", "year": "9" * 40}) == [
        "Limpet Colours",
        "Mill Lane Boards",
    ]


def test_the_list_adds_up_what_was_not_taken_back(signed: Client) -> None:
    make_delivery(lines=[(make_material(), 1000, money("5.25"))])
    gone = make_delivery(lines=[(make_material(), 1000, money(3))])
    take_back(gone.posting)
    words = text_of(signed.get(reverse("inventory:deliveries")))
    assert "Landed cost £5.25" in words
    assert "Reversed" in words


def test_an_empty_list_teaches(signed: Client) -> None:
    assert "No deliveries yet" in text_of(signed.get(reverse("inventory:deliveries")))


@pytest.mark.parametrize("page", ["inventory:deliveries", "inventory:delivery", "inventory:delivery-new"])
def test_the_number_of_queries_does_not_grow_with_the_rows(signed: Client, page: str) -> None:
    def count(rows: int) -> int:
        made = None
        for _ in range(rows if page == "inventory:deliveries" else 1):
            made = make_delivery(
                lines=[(make_material(), 1000, money(1)) for _ in range(rows)], supplier=make_supplier()
            )
        arguments = [made.pk] if page == "inventory:delivery" and made else []
        with CaptureQueriesContext(connection) as queries:
            assert signed.get(reverse(page, args=arguments)).status_code == 200
        return len(queries)

    count(1)  # the first visit warms up what is read once
    assert count(3) == count(12)


def test_a_hostile_name_is_written_as_text(signed: Client) -> None:
    nasty = "<script>alert(1)</script>"
    made = make_delivery(
        lines=[(make_material(name=nasty), 1000, money(1))],
        supplier=make_supplier(name=nasty + "x"),
        reference=nasty,
    )
    for address in (reverse("inventory:deliveries"), reverse("inventory:delivery", args=[made.pk])):
        page = signed.get(address).content.decode()
        assert nasty not in page
        assert "&lt;script&gt;" in page


# Who may


def test_a_helper_sees_what_came_but_no_money(helper: User) -> None:
    made = make_delivery(lines=[(make_material(), units(1000), money("12.34"))], carriage=money("5.67"))
    client = as_user(helper)
    for address in (reverse("inventory:deliveries"), reverse("inventory:delivery", args=[made.pk])):
        page = client.get(address)
        assert page.status_code == 200
        assert not re.search(r"£|18\.01|12\.34|5\.67", page.content.decode())
    assert client.get(reverse("inventory:deliveries"), {"sort": "cost"}).context["table"].sort == "-day"


@pytest.mark.parametrize("name", ["delivery-new", "delivery-file", "delivery-file-example"])
def test_only_workers_who_see_money_log_deliveries(
    name: str, owner: User, helper: User, bookkeeper: User, stranger: User
) -> None:
    address = reverse(f"inventory:{name}")
    assert as_user(owner).get(address).status_code == 200
    assert as_user(make_helper(may_see_money=True)).get(address).status_code == 200
    assert as_user(helper).get(address).status_code == 403
    assert as_user(bookkeeper).get(address).status_code == 403
    assert as_user(stranger).get(address).status_code == 302
    assert Client().get(address)["Location"].startswith(reverse("login"))


def test_a_bookkeeper_reads_the_costs(bookkeeper: User) -> None:
    made = make_delivery(lines=[(make_material(), units(1000), money("12.34"))])
    page = text_of(as_user(bookkeeper).get(reverse("inventory:delivery", args=[made.pk])))
    assert "£12.34" in page
    assert "Reverse this delivery" not in page
    assert "Correct a line" not in page
