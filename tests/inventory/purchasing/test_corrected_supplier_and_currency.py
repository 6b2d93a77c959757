"""A delivery logged from the wrong supplier, or with its invoice in the wrong currency, put right."""

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from inventory.errors import InventoryError
from inventory.ledger.models import Lot, Posting, PostingKind
from inventory.purchasing.models import Delivery
from studio.accounts.models import User
from tests import making
from tests.days import june
from tests.inventory.browsing import text_of
from tests.inventory.invariants import refused, wrong_places
from tests.inventory.purchasing.test_delivery_correction_page import confirm, preview
from tests.making import held, money, units
from tests.programs import Program

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]


@pytest.fixture
def delivery() -> Delivery:
    """100 mL of amber for 10.00, half of it spilled since."""
    made = making.make_delivery(
        lines=[(making.make_material(name="Amber"), units(100), money(10))],
        supplier=making.make_supplier(name="Tern Pigments"),
        on=june(2),
    )
    making.spill(lot=lot_of(made), quantity=units(50), on=june(4))
    return made


def lot_of(delivery: Delivery) -> Lot:
    return delivery.lines.get().lot


def test_another_supplier_alone_is_posted_visibly_and_costs_nothing(delivery: Delivery) -> None:
    other, before = making.make_supplier(name="Skerry Colours"), held(lot_of(delivery))
    posting = making.correct_delivery(delivery, supplier=other)
    delivery.refresh_from_db()
    assert delivery.supplier == other
    assert held(lot_of(delivery)) == before
    assert (posting.kind, posting.corrects) == (PostingKind.CORRECTION, delivery.posting)
    making.take_back(posting)
    delivery.refresh_from_db()
    assert delivery.supplier.name == "Tern Pigments"
    assert held(lot_of(delivery)) == before


def test_a_foreign_invoice_that_was_logged_as_one_at_home_is_costed_at_its_rate(delivery: Delivery) -> None:
    posting = making.correct_delivery(delivery, currency="EUR", rate=Decimal("0.86"))
    delivery.refresh_from_db()
    assert (delivery.currency, delivery.rate, delivery.rate_on) == ("EUR", Decimal("0.86"), june(2))
    assert (delivery.invoiced, delivery.paid) == (money(10), money("8.60"))
    assert held(lot_of(delivery)) == (units(50), money("4.30"))
    back = making.correct_delivery(delivery, currency="GBP")
    delivery.refresh_from_db()
    assert (delivery.currency, delivery.rate, delivery.paid) == ("GBP", None, money(10))
    for each in (back, posting):
        making.take_back(each)
    delivery.refresh_from_db()
    assert (delivery.currency, delivery.rate) == ("GBP", None)
    assert held(lot_of(delivery)) == (units(50), money(5))


def test_a_currency_that_comes_to_the_same_cost_is_corrected_too(delivery: Delivery) -> None:
    making.correct_delivery(delivery, currency="EUR", paid=money(10))
    delivery.refresh_from_db()
    assert (delivery.currency, delivery.paid) == ("EUR", money(10))


def test_a_closed_period_does_not_keep_the_wrong_supplier(delivery: Delivery) -> None:
    making.close_books(through=june(5))
    making.correct_delivery(delivery, supplier=making.make_supplier(name="Skerry Colours"))
    delivery.refresh_from_db()
    assert delivery.supplier.name == "Skerry Colours"


def test_a_foreign_invoice_needs_its_rate_and_the_same_again_is_nothing(delivery: Delivery) -> None:
    assert wrong_places(lambda: making.correct_delivery(delivery, currency="EUR")) == ["rate"]
    assert wrong_places(lambda: making.correct_delivery(delivery, currency="XXQ")) == ["currency"]
    with refused(InventoryError, match="Nothing has changed"):
        making.correct_delivery(delivery, currency="GBP", supplier=delivery.supplier)


def test_the_page_shows_both_before_they_are_posted_and_tells_them_afterwards(
    signed: Client, delivery: Delivery
) -> None:
    other = making.make_supplier(name="Skerry Colours")
    shown = preview(signed, delivery, supplier=str(other.pk), currency="eur", rate="0.86")
    rows = {row.name: (row.before, row.after) for row in shown.context["table"].rows}
    assert rows[f"Amber, {lot_of(delivery).label}"] == (money(5), money("4.30"))
    assert not Posting.objects.filter(kind=PostingKind.CORRECTION).exists()
    assert confirm(signed, shown).status_code == 302
    words = text_of(signed.get(reverse("inventory:delivery", args=[delivery.pk])))
    assert "Supplier from Tern Pigments to Skerry Colours" in words
    assert "Currency of the invoice from GBP to EUR" in words
    making.correct_delivery(Delivery.objects.get(), lines={lot_of(delivery).pk: {"price": money(12)}})
    words = text_of(signed.get(reverse("inventory:delivery", args=[delivery.pk])))
    assert "Line price from €10.00 to €12.00" in words


def test_a_delivery_that_answers_an_order_keeps_its_supplier(signed: Client) -> None:
    paint = making.make_material()
    order = making.make_order((paint, units(100), money(10)))
    made = making.make_delivery(lines=[(paint, units(100), money(10))], supplier=order.supplier, order=order)
    page = signed.get(reverse("inventory:delivery-correct", args=[made.pk]))
    assert "supplier" not in page.context["form"].fields
    other = making.make_supplier(name="Skerry Colours")
    assert wrong_places(lambda: making.correct_delivery(made, supplier=other)) == ["order"]


def test_a_program_corrects_both(owner: User, delivery: Delivery) -> None:
    other = making.make_supplier(name="Skerry Colours")
    sent = {"supplier": other.pk, "currency": "EUR", "rate": "0.86", "reason": "Wrong letterhead"}
    made = Program(owner).send(f"deliveries/{delivery.pk}/corrections/", sent)
    assert (made["supplier"]["id"], made["currency"], made["rate"]) == (other.pk, "EUR", "0.86")
    figures = {each["name"]: (each["before"], each["after"]) for each in made["corrections"][0]["figures"]}
    assert figures["supplier_id"] == ("Tern Pigments", "Skerry Colours")
    assert figures["currency"] == ("GBP", "EUR")
