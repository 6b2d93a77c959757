"""Logging a delivery: what each line cost on arrival, what is asked for, and what is refused beside its field."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from inventory.ledger.models import Lot, Posting
from inventory.purchasing.models import Delivery, Order
from studio.preferences.models import Studio
from tests.inventory.browsing import KEY, text_of
from tests.making import (
    held,
    make_material,
    make_order,
    make_supplier,
    make_surface,
    make_water,
    money,
    units,
)

pytestmark = pytest.mark.django_db


def sent(*lines: dict[str, Any], **head: Any) -> dict[str, Any]:
    """A delivery as the browser sends it."""
    data: dict[str, Any] = {
        "key": KEY,
        "supplier": head.pop("supplier", None) or make_supplier().pk,
        "received_on": "2025-06-10",
        "carriage_shared_by": "value",
        "lines-TOTAL_FORMS": str(len(lines) + 6),
        "lines-INITIAL_FORMS": "0",
    } | head
    for number in range(len(lines) + 6):
        data |= {f"lines-{number}-packs": "1"}
    for number, line in enumerate(lines):
        data |= {f"lines-{number}-{name}": value for name, value in line.items()}
    return data


# Logging one


def test_it_posts_a_delivery_and_shows_what_each_line_cost_on_arrival(signed: Client) -> None:
    paint, canvas = make_material(name="Sail Loft White"), make_surface(name="Deep canvas")
    response = signed.post(
        reverse("inventory:delivery-new"),
        sent(
            {"material": paint.pk, "pack": "500 ml", "packs": "2", "price": "30.00", "place": "Window"},
            {"material": canvas.pk, "pack": "10 each", "price": "10.00", "best_before": "2027-03-31"},
            carriage="4.00",
            tax="8",
            reference="INV-7",
        ),
    )
    made = Delivery.objects.get()
    assert response.status_code == 302
    assert response["Location"] == reverse("inventory:delivery", args=[made.pk])
    assert held(Lot.objects.get(material=paint)) == (units(1000), money("39.00"))
    assert held(Lot.objects.get(material=canvas)) == (units(10), money("13.00"))
    words = text_of(signed.get(response["Location"]))
    assert "2 packs of 500 mL Window 1,000 mL" in words
    assert "£30.00 £3.00 £6.00 £39.00 £3.90 per 100 mL" in words
    assert "Best before 31 Mar 2027" in words
    assert f"Posting {made.posting_id}" in words
    assert "Total £40.00 £4.00 £8.00 £52.00" in words


def test_it_echoes_a_typed_ounce_in_full(signed: Client) -> None:
    Studio.objects.update(fluid_system="us")
    paint = make_material()
    signed.post(
        reverse("inventory:delivery-new"), sent({"material": paint.pk, "pack": "8 fl oz", "price": "9.40"})
    )
    # 1 US fluid ounce = 29.5735295625 mL (NIST Handbook 44, appendix C), so eight are 236.588 mL.
    words = text_of(signed.get(reverse("inventory:delivery", args=[Delivery.objects.get().pk])))
    assert "8 US fluid ounces = 236.588 mL" in words


def test_the_echo_stands_when_the_studio_changes_its_ounce(signed: Client) -> None:
    Studio.objects.update(fluid_system="us")
    paint = make_material()
    signed.post(
        reverse("inventory:delivery-new"), sent({"material": paint.pk, "pack": "8 fl oz", "price": "9.40"})
    )
    Studio.objects.update(fluid_system="imperial")
    words = text_of(signed.get(reverse("inventory:delivery", args=[Delivery.objects.get().pk])))
    assert "8 fl oz = 236.588 mL" in words
    assert "imperial" not in words


def test_it_takes_the_suppliers_currency_and_asks_for_the_rate(signed: Client) -> None:
    supplier, paint = make_supplier(currency="EUR"), make_material()
    data = sent({"material": paint.pk, "pack": "1 l", "price": "20.00"}, supplier=supplier.pk)
    response = signed.post(reverse("inventory:delivery-new"), data)
    assert response.status_code == 422
    assert "how much GBP one EUR was" in text_of(response)
    assert not Posting.objects.exists()

    signed.post(reverse("inventory:delivery-new"), data | {"rate": "0.85"})
    made = Delivery.objects.get()
    assert (made.currency, made.rate, made.rate_on) == ("EUR", Decimal("0.85"), date(2025, 6, 10))
    assert made.lines.get().landed == money("17.00")
    words = text_of(signed.get(reverse("inventory:delivery", args=[made.pk])))
    assert "1 EUR = 0.85 GBP" in words
    assert "€20.00" in words


def test_it_refuses_a_rate_for_an_invoice_in_the_studios_own_currency(signed: Client) -> None:
    data = sent({"material": make_material().pk, "pack": "1 l", "price": "20"}, rate="0.85")
    response = signed.post(reverse("inventory:delivery-new"), data)
    assert "The invoice is already in GBP" in text_of(response)
    assert not Posting.objects.exists()


@pytest.mark.parametrize(
    ("line", "field", "says"),
    [
        ({"pack": "8 oz"}, "pack", "An ounce is a weight"),
        ({"pack": "3 each"}, "pack", "needs a volume"),
        ({"price": "12,345,6"}, "price", "12,345,6"),
        ({"price": "1.234"}, "price", "too many decimals"),
        ({"packs": "0"}, "packs", "greater than or equal to 1"),
        ({"material": ""}, "material", "name a new one"),
        ({"material": "999999"}, "material", "999999"),
        ({"best_before": "31 March"}, "best_before", "valid date"),
    ],
)
def test_it_puts_each_error_on_its_own_field_and_posts_nothing(
    signed: Client, line: dict[str, Any], field: str, says: str
) -> None:
    whole = {"material": make_material().pk, "pack": "500 ml", "price": "9.50"} | line
    response = signed.post(reverse("inventory:delivery-new"), sent(whole))
    assert response.status_code == 422
    errors = response.context["formset"].forms[0].errors
    assert list(errors) == [field]
    assert says in str(errors[field])
    assert not Posting.objects.exists()


def test_it_keeps_what_was_typed_when_the_writer_refuses(signed: Client) -> None:
    canvas = make_surface(name="Deep canvas")
    data = sent(
        {"material": canvas.pk, "pack": "7 each", "price": "9.50"}, carriage="3", carriage_shared_by="mass"
    )
    response = signed.post(reverse("inventory:delivery-new"), data)
    assert response.status_code == 422
    assert "the weight of Deep canvas is unknown" in text_of(response)
    assert 'value="7 each"' in response.content.decode()
    assert not Posting.objects.exists()


def test_an_empty_form_is_refused_in_words(signed: Client) -> None:
    make_material()
    response = signed.post(reverse("inventory:delivery-new"), sent())
    assert "A delivery needs at least one line." in text_of(response)


def test_the_same_form_sent_twice_posts_once(signed: Client) -> None:
    data = sent({"material": make_material().pk, "pack": "500 ml", "price": "9.50"})
    first = signed.post(reverse("inventory:delivery-new"), data)
    second = signed.post(reverse("inventory:delivery-new"), data)
    assert first["Location"] == second["Location"]
    assert Delivery.objects.count() == 1


def test_a_removed_line_is_left_out(signed: Client) -> None:
    line = {"material": make_material().pk, "pack": "500 ml", "price": "9.50"}
    signed.post(reverse("inventory:delivery-new"), sent(line, line | {"DELETE": "on", "pack": "nonsense"}))
    assert Delivery.objects.get().lines.count() == 1


def test_the_form_has_six_blank_lines_and_offers_no_free_or_archived_material(signed: Client) -> None:
    make_water(name="Tap water")
    make_material(name="Old stock", is_archived=True)
    make_material(name="Sail Loft White")
    response = signed.get(reverse("inventory:delivery-new"))
    page = response.content.decode()
    assert len(response.context["formset"].forms) == 6
    assert "Sail Loft White" in page
    assert "Tap water" not in page
    assert "Old stock" not in page
    assert 'name="lines-0-new_name"' in page


def test_a_delivery_started_from_an_order_is_filled_with_what_is_still_to_come(signed: Client) -> None:
    paint, canvas = make_material(), make_surface()
    supplier = make_supplier(name="Limpet Colours")
    order = make_order(
        (paint, units(1000), money(20)),
        (canvas, units(10), money(30)),
        supplier=supplier,
        on=date(2025, 6, 1),
    )
    address = f"{reverse('inventory:delivery-new')}?order={order.pk}"
    first = signed.get(address).context["formset"].forms
    assert first[0].initial["pack"] == "1000 mL"
    assert (
        first[0].fields["price"].widget.attrs["data-for-packs"] == "1"
    )  # a script lets the price follow the packs

    lines = [
        {
            "material": paint.pk,
            "pack": "400 ml",
            "price": "8",
            "order_line": order.lines.get(material=paint).pk,
        }
    ]
    signed.post(address, sent(*lines, supplier=supplier.pk))
    again = signed.get(address).context["formset"].forms
    assert [row.initial["pack"] for row in again[:2]] == ["600 mL", "10 each"]
    assert again[0]["price"].value() == "12.00"
    assert Delivery.objects.get().order == order

    signed.post(address, sent(*lines, supplier=supplier.pk, close_order="on", key="1" * 32))
    assert Order.objects.get().is_closed
