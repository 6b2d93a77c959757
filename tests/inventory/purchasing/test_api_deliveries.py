"""Deliveries over JSON: typed quantities, exact money, one posting per key."""

import json
from typing import Any

import pytest

from inventory.ledger.models import LotBalance, Posting
from inventory.materials.models import Material, Supplier
from inventory.purchasing.models import Delivery
from studio.accounts.models import User
from tests.days import TODAY
from tests.making import close_books, held, make_helper, make_material, make_supplier, money, units
from tests.programs import Program, names_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]


@pytest.fixture
def program(owner: User) -> Program:
    return Program(owner)


def delivery(**change: Any) -> dict[str, Any]:
    """Two bottles of paint and a carriage."""
    paint = Material.objects.filter(name="Lantern Amber").first() or make_material(name="Lantern Amber")
    said = {
        "supplier": (Supplier.objects.first() or make_supplier()).pk,
        "received_on": TODAY.isoformat(),
        "reference": "INV 7",
        "carriage": "4.95",
        "lines": [{"material": paint.pk, "pack": "8 us fl oz", "packs": 2, "price": "18.40"}],
    }
    return said | change


def line(**change: Any) -> dict[str, Any]:
    found: dict[str, Any] = delivery()["lines"][0]
    return found | change


def test_a_delivery_is_posted_and_read_back(program: Program) -> None:
    made = program.send("deliveries/", delivery(), key="first")
    [bottle] = made["lines"]
    # NIST Handbook 44 (2024), appendix C: 1 US fluid ounce = 29.5735295625 mL; a pack of 8 is 236.588 mL.
    assert bottle["quantity"] == {"amount": 473_176, "measure": "volume", "formatted": "473.176\xa0mL"}
    assert (bottle["price"], bottle["landed"]) == ("18.400000", "23.350000")
    assert bottle["typed"] == "8 us fl oz"
    assert program.read(f"deliveries/{made['id']}/") == made
    assert Posting.objects.get().key == "first"


def test_a_quantity_may_be_sent_exactly_as_it_is_answered(program: Program) -> None:
    exact = {"amount": 250_001, "measure": "volume", "formatted": "whatever"}
    made = program.send("deliveries/", delivery(lines=[line(pack=exact, packs=1)]))
    assert made["lines"][0]["quantity"]["amount"] == 250_001
    # 280 g at 1.12 g/mL are 250 mL
    weighed = program.send("deliveries/", delivery(lines=[line(pack={"amount": 280_000, "measure": "mass"})]))
    assert weighed["lines"][0]["quantity"]["amount"] == 2 * 250_000


def test_a_number_is_read_to_its_last_digit(program: Program) -> None:
    # No binary float is 8999999999.123452: the nearest one is written as …123451.
    foreign = delivery(currency="EUR", rate="in digits", carriage=0, lines=[line(price="0.01")])
    body = json.dumps(foreign).replace('"in digits"', "8999999999.123452")
    headers = {"Idempotency-Key": "exact"}
    answer = program.client.post("/api/deliveries/", body, content_type="application/json", headers=headers)
    assert (answer.status_code, answer.json()["rate"]) == (201, "8999999999.123452")


def test_the_same_key_posts_once_and_answers_the_same(program: Program) -> None:
    body = delivery()
    first = program.send("deliveries/", body, key='"8e03978e-40d5-43dd-bc93-6894a57f9324"')
    again = program.send("deliveries/", body, key="8e03978e-40d5-43dd-bc93-6894a57f9324", status=200)
    assert again == first
    assert (Delivery.objects.count(), Posting.objects.count()) == (1, 1)


def test_the_same_key_with_another_body_is_refused(program: Program) -> None:
    body = delivery()
    program.send("deliveries/", body, key="one")
    refused = program.refusal("deliveries/", body | {"carriage": "5.00"}, key="one", status=422)
    assert refused["kind"] == "key-reused"
    assert Posting.objects.count() == 1


def test_the_same_key_of_another_person_is_another_request(program: Program) -> None:
    body = delivery()
    program.send("deliveries/", body, key="one")
    Program(make_helper(may_see_money=True)).send("deliveries/", body, key="one")
    assert Posting.objects.count() == 2


@pytest.mark.parametrize("key", ["", " ", "k" * 81, "naïve", "two words", '"'])
def test_a_post_needs_a_key(program: Program, key: str) -> None:
    answer = program.client.post(
        "/api/deliveries/", "{}", content_type="application/json", headers={"Idempotency-Key": key}
    )
    assert answer.status_code == 400
    assert "Idempotency-Key" in answer.json()["errors"]


@pytest.mark.parametrize(
    ("change", "named"),
    [
        ({"pack": "250"}, None),  # a bare number takes the base unit
        ({"pack": "2 furlongs"}, "pack"),
        ({"pack": "-1 ml"}, "pack"),
        ({"pack": 250}, "pack"),
        ({"pack": {"amount": 1.5, "measure": "volume"}}, "pack"),
        ({"pack": {"amount": 1, "measure": "length"}}, "pack"),
        ({"packs": 0}, "packs"),
        ({"packs": 1.5}, "packs"),
        ({"packs": True}, "packs"),
        ({"price": 18.4}, None),  # a JSON number is as exact as text
        ({"price": 18.4000001}, "price"),
        ({"price": True}, "price"),
        ({"price": 10**400}, "price"),
        ({"price": "18,40"}, "price"),
        ({"price": "-1.00"}, "price"),
        ({"price": "1e3"}, "price"),
        ({"price": "１"}, "price"),
        ({"material": "first"}, "material"),
        ({"material": 10**30}, "material"),
        ({"best_before": "soon"}, "best_before"),
        ({"colour": "amber"}, "colour"),
    ],
)
def test_it_names_what_it_cannot_read_and_posts_nothing(
    program: Program, change: dict[str, Any], named: str | None
) -> None:
    answer = program.post("deliveries/", delivery(lines=[line(**change)]))
    if named is None:
        assert answer.status_code == 201
        return
    assert answer.status_code == 400
    assert named in names_of(answer.json()["errors"])
    assert not Posting.objects.exists()


@pytest.mark.parametrize(
    ("change", "named"),
    [
        ({"lines": []}, "lines"),
        ({"lines": None}, "lines"),
        ({"currency": "EUR"}, "rate"),
        ({"currency": "ZZZ"}, "currency"),
        ({"rate": "0.86"}, "rate"),
        ({"carriage": "4.955"}, "carriage"),
        ({"supplier": 999_999}, "supplier"),
        ({"received_on": "2025-02-30"}, "received_on"),
    ],
)
def test_it_names_what_is_wrong_with_the_head(program: Program, change: dict[str, Any], named: str) -> None:
    refused = program.refusal("deliveries/", delivery(**change), status=400)
    assert list(refused["errors"]) == [named]
    assert not Posting.objects.exists()


def test_a_foreign_invoice_needs_its_rate(program: Program) -> None:
    made = program.send("deliveries/", delivery(currency="EUR", rate="0.86", carriage="0"))
    assert made["lines"][0]["landed"] == "15.824000"  # 18.40 × 0.86
    assert (made["currency"], made["rate"]) == ("EUR", "0.86")


def test_a_closed_period_is_a_clash(program: Program) -> None:
    close_books(through=TODAY)
    refused = program.refusal("deliveries/", delivery(), status=409)
    assert refused["kind"] == "closed-period"
    assert not LotBalance.objects.exists()


def test_helpers_see_what_came_but_not_what_it_cost(program: Program, helper: User) -> None:
    made = program.send("deliveries/", delivery())
    other = Program(helper)
    for path in ("deliveries/", f"deliveries/{made['id']}/"):
        assert not names_of(other.read(path)) & {"landed", "price", "carriage", "duty", "tax", "rate"}
    assert other.post("deliveries/", delivery()).status_code == 403


def test_bookkeepers_read_and_post_nothing(program: Program, bookkeeper: User) -> None:
    made = program.send("deliveries/", delivery())
    other = Program(bookkeeper)
    assert other.read(f"deliveries/{made['id']}/") == made
    assert other.post("deliveries/", delivery()).status_code == 403


def test_deliveries_are_chosen_by_day_and_supplier(program: Program) -> None:
    made = program.send("deliveries/", delivery())
    assert program.read("deliveries/", supplier=made["supplier"]["id"], first=TODAY, last=TODAY)["count"] == 1
    assert program.read("deliveries/", last="2020-01-01")["count"] == 0


def test_the_lot_holds_what_the_delivery_said(program: Program) -> None:
    program.send("deliveries/", delivery(lines=[line(pack="1 l", packs=1, price="10.00")], carriage="0"))
    assert held(LotBalance.objects.get().lot) == (units(1_000), money(10))
