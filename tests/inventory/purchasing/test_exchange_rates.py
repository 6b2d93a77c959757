"""Goods paid for in another currency: what was paid lands on the shelf, to the last millionth."""

import json
from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from inventory.ledger.models import Entry, Place, Posting
from inventory.materials.models import Material, Supplier
from inventory.purchasing.actions.deliveries import landed_costs, receive_delivery
from inventory.purchasing.actions.delivery_facts import DeliveryFacts, DeliveryHeader, LineFacts
from inventory.purchasing.landed_costs import breakdown
from inventory.purchasing.models import Delivery
from studio.accounts.models import User
from studio.preferences.models import Studio
from studio.values.money import MINOR_UNITS, minor_unit
from tests.days import TODAY
from tests.inventory.browsing import KEY, text_of
from tests.inventory.invariants import wrong_places
from tests.making import delivery_facts, make_material, make_submission, make_supplier, money, units
from tests.programs import Program

PAINT = Material(name="Paint", measure="volume", kind="paint")
CURRENCIES = st.sampled_from(sorted(MINOR_UNITS))
MOST = 10**13  # millionths of an amount: ten million units


def facts_of(home: str, foreign: str, prices: list[int], **header: Any) -> DeliveryFacts:
    """A delivery of lines at so many minor units of the invoice's currency; nothing is stored."""
    supplier = Supplier(name="Somewhere", currency=foreign)
    lines = [LineFacts(PAINT, 1, price * minor_unit(foreign)) for price in prices]
    return DeliveryFacts(DeliveryHeader(supplier, TODAY, home, **header), lines)


@st.composite
def payments(draw: st.DrawFn) -> tuple[DeliveryFacts, DeliveryFacts]:
    """What was paid for goods abroad, with costs that all lines share and without."""
    home, foreign = draw(st.lists(CURRENCIES, min_size=2, max_size=2, unique=True))
    prices = draw(st.lists(st.integers(0, 10**8), min_size=1, max_size=30).filter(any))
    step = minor_unit(home)
    paid, carriage, duty = (step * draw(st.integers(least, MOST // step)) for least in (1, 0, 0))
    alone = facts_of(home, foreign, prices, paid=paid)
    return alone, facts_of(home, foreign, prices, paid=paid, carriage=carriage, duty=duty)


@given(payment=payments())
def test_whatever_two_sums_were_paid_the_lines_land_at_exactly_that(
    payment: tuple[DeliveryFacts, DeliveryFacts],
) -> None:
    alone, together = payment
    header = together.header
    assert sum(landed_costs(together)) == (header.paid or 0) + header.carriage + header.duty
    costs = landed_costs(alone)
    assert sum(costs) == header.paid
    for cost, line in zip(costs, alone.lines, strict=True):
        # within a millionth of its own share
        assert abs(cost * alone.invoiced - sum(costs) * line.price) < alone.invoiced


@given(
    digits=st.integers(1, 10**15 - 1),
    places=st.integers(0, 18),
    prices=st.lists(st.integers(0, 10**6), min_size=1, max_size=30),
)
def test_at_any_rate_the_lines_land_at_their_sum_converted_once(
    digits: int, places: int, prices: list[int]
) -> None:
    exact = sum(prices) * 10**6 * digits  # of 10^places
    if exact <= MOST * 10**places:
        facts = facts_of("GBP", "JPY", prices, rate=Decimal(digits).scaleb(-places))
        assert 2 * abs(sum(landed_costs(facts)) * 10**places - exact) <= 10**places


# ISO 4217: the yen has no minor unit, the dinar of Kuwait has three decimals, the pound and the euro two.


@pytest.mark.django_db
@pytest.mark.usefixtures("books_hold")
@pytest.mark.parametrize(
    ("home", "foreign", "prices", "paid"),
    [
        ("GBP", "JPY", ["12500", "3980", "1"], "84.17"),
        ("GBP", "KWD", ["12.345", "0.001", "7.000"], "49.99"),
        ("JPY", "KWD", ["12.345", "0.001", "7.000"], "9503"),
        ("KWD", "JPY", ["12500", "3980", "1"], "33.417"),
        ("EUR", "IDR", ["1000000.00", "333333.33"], "41.87"),
    ],
)
def test_a_payment_between_any_minor_units_is_on_the_shelf_to_the_last_millionth(
    owner: User, home: str, foreign: str, prices: list[str], paid: str
) -> None:
    Studio.objects.update(currency=home)
    lines = [LineFacts(make_material(), units(1), money(price)) for price in prices]
    facts = delivery_facts(lines=lines, home_currency=home, currency=foreign, paid=money(paid))
    delivery = receive_delivery(facts=facts, submission=make_submission(by=owner))
    assert sum(Entry.objects.filter(place=Place.LOT).values_list("money", flat=True)) == money(paid)
    assert (delivery.rate, delivery.invoiced, delivery.paid) == (None, sum(map(money, prices)), money(paid))
    parts = breakdown(delivery, list(delivery.lines.all()))
    assert sum(part.price for part in parts) == money(paid)


@pytest.mark.django_db
@pytest.mark.parametrize(("currency", "price"), [("JPY", "0.5"), ("KWD", "0.0005"), ("GBP", "0.005")])
def test_no_price_is_finer_than_its_currency(currency: str, price: str) -> None:
    lines = [LineFacts(make_material(), 1, money(price))]
    wrong = wrong_places(
        lambda: delivery_facts(lines=lines, home_currency="EUR", currency=currency, paid=10**6)
    )
    assert wrong == [("lines", 1, "price")]


@pytest.mark.django_db
def test_nothing_is_paid_for_lines_that_are_all_free() -> None:
    lines = [LineFacts(make_material(), 1, 0)]
    assert wrong_places(lambda: delivery_facts(lines=lines, currency="JPY", paid=money(5))) == ["paid"]


@pytest.mark.django_db
def test_a_rate_far_below_one_keeps_all_its_digits(owner: User) -> None:
    # 1,000,000.00 at 0.0000314 is 31.40 by arithmetic.
    lines = [LineFacts(make_material(), units(1), money("1000000"))]
    facts = delivery_facts(lines=lines, currency="IDR", rate=Decimal("0.0000314"))
    delivery = receive_delivery(facts=facts, submission=make_submission(by=owner))
    delivery.refresh_from_db()
    assert (delivery.lines.get().landed, delivery.paid) == (money("31.40"), money("31.40"))
    assert delivery.rate == Decimal("0.0000314")


# By page, program and file


def typed(*prices: str, **head: str) -> dict[str, Any]:
    """A delivery of paint as the browser sends it, from a supplier in Japan unless said otherwise."""
    data: dict[str, Any] = {
        "key": KEY,
        "supplier": make_supplier(currency=head.pop("currency", "JPY")).pk,
        "received_on": TODAY.isoformat(),
        "carriage_shared_by": "value",
        "lines-TOTAL_FORMS": str(len(prices)),
        "lines-INITIAL_FORMS": "0",
    } | head
    for number, price in enumerate(prices):
        line = {"material": make_material().pk, "pack": "1 l", "packs": "1", "price": price}
        data |= {f"lines-{number}-{name}": value for name, value in line.items()}
    return data


@pytest.mark.django_db
def test_the_page_takes_what_was_paid_and_shows_both_sums(signed: Client) -> None:
    signed.post(reverse("inventory:delivery-new"), typed("12500", "3980", "1", paid="84.17"))
    made = Delivery.objects.get()
    assert (made.paid, made.rate) == (money("84.17"), None)
    assert sum(line.landed for line in made.lines.all()) == money("84.17")
    assert "£84.17 for JP¥16,481" in text_of(signed.get(reverse("inventory:delivery", args=[made.pk])))


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("locale", "rate", "written"),
    [("en_GB", "0.0000314", "1 IDR = 0.0000314 GBP"), ("de_DE", "0,00003140", "1 IDR = 0,00003140 GBP")],
)
def test_the_page_shows_a_rate_as_it_was_typed(signed: Client, locale: str, rate: str, written: str) -> None:
    Studio.objects.update(locale=locale)
    signed.post(reverse("inventory:delivery-new"), typed("1000000", currency="IDR", rate=rate))
    made = Delivery.objects.get()
    assert made.paid == money("31.40")
    assert written in text_of(signed.get(reverse("inventory:delivery", args=[made.pk])))


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("head", "field"),
    [
        ({}, "rate"),
        ({"rate": "0.0051", "paid": "84.17"}, "paid"),
        ({"paid": "0"}, "paid"),
        ({"paid": "84.175"}, "paid"),
        ({"rate": "0"}, "rate"),
        ({"rate": "1/196"}, "rate"),
        ({"rate": "1e-5"}, "rate"),
    ],
)
def test_the_page_says_what_is_wrong_with_a_rate_or_a_payment(
    signed: Client, head: dict[str, str], field: str
) -> None:
    answer = signed.post(reverse("inventory:delivery-new"), typed("12500", **head))
    assert list(answer.context["form"].errors) == [field]
    assert not Posting.objects.exists()


def sent(price: str, **head: Any) -> dict[str, Any]:
    """A delivery of paint as a program sends it."""
    line = {"material": make_material().pk, "pack": "1 l", "price": price}
    supplier = make_supplier(currency="JPY").pk
    return {"supplier": supplier, "received_on": TODAY.isoformat(), "lines": [line]} | head


@pytest.mark.django_db
def test_a_program_sends_either_a_rate_or_what_was_paid(owner: User) -> None:
    program = Program(owner)
    made = program.send("deliveries/", sent("12500", paid="84.17"))
    assert (made["rate"], made["invoiced"], made["paid"]) == (None, "12500.000000", "84.170000")
    made = program.send("deliveries/", sent("12500", rate="0.0051000"))
    assert (made["rate"], made["paid"]) == ("0.0051000", "63.750000")
    for head, field in (({}, "rate"), ({"rate": "0.0051", "paid": "84.17"}, "paid"), ({"paid": "0"}, "paid")):
        assert list(program.refusal("deliveries/", sent("12500", **head), status=400)["errors"]) == [field]


@pytest.mark.django_db
@pytest.mark.parametrize("number", ["1e-7", "1E+2", "0.0000001"])
def test_a_rate_may_be_any_number_of_json(owner: User, number: str) -> None:
    body = json.dumps(sent("1", rate="in digits")).replace('"in digits"', number)
    headers = {"Idempotency-Key": "number"}
    client = Program(owner).client
    answer = client.post("/api/deliveries/", body, content_type="application/json", headers=headers)
    assert answer.status_code == 201
    assert Delivery.objects.get().rate == Decimal(number)


@pytest.mark.django_db
@pytest.mark.parametrize("half", ["rate_digits", "rate_places"])
def test_the_database_keeps_no_half_of_a_rate(owner: User, half: str) -> None:
    lines = [LineFacts(make_material(), units(1), money(100))]
    facts = delivery_facts(lines=lines, currency="JPY", paid=money(1))
    receive_delivery(facts=facts, submission=make_submission(by=owner))
    with pytest.raises(IntegrityError), transaction.atomic():
        Delivery.objects.update(**{half: 5})
    with pytest.raises(IntegrityError), transaction.atomic():
        Delivery.objects.update(rate_digits=0, rate_places=0)
