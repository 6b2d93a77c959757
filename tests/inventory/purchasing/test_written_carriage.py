"""What a pasted order confirmation says of the way becomes the delivery's carriage."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from tests.making import make_material

pytestmark = pytest.mark.django_db

LINES = "Marram 500 ml £7.20\nShipping £4.95\nVAT £2.43"


def read(client: Client, lines: str = LINES, **more: Any) -> Any:
    make_material(name="Marram")
    rows = {"lines-TOTAL_FORMS": "1", "lines-INITIAL_FORMS": "0", "lines-0-packs": "1"}
    data = {"do": "read", "received_on": "2025-06-10", "written-lines": lines, **rows, **more}
    return client.post(reverse("inventory:delivery-new"), data)


def test_shipping_is_put_into_carriage_and_other_extras_are_left_out(signed: Client) -> None:
    page = read(signed)
    assert page.context["form"]["carriage"].value() == "4.95"
    written = page.context["written"]
    assert [line.text for line in written.carried] == ["Shipping £4.95"]
    assert [line.text for line in written.extras] == ["VAT £2.43"]


def test_carriage_that_was_typed_stays(signed: Client) -> None:
    page = read(signed, carriage="6.00")
    assert page.context["form"]["carriage"].value() == "6.00"
    assert not page.context["written"].carried


@pytest.mark.parametrize("lines", ["Marram 500 ml £7.20", "Shipping free", "Shipping £4.95\nPostage £1,2,3"])
def test_nothing_is_put_there_where_no_line_says_it_or_one_cannot_be_read(signed: Client, lines: str) -> None:
    assert not read(signed, lines).context["form"]["carriage"].value()
