"""Putting a delivery right over JSON: only what was wrong is sent, shown first, posted once."""

from typing import Any

import pytest

from inventory.ledger.models import Posting, PostingKind
from inventory.purchasing.models import Delivery
from studio.accounts.models import User
from tests.days import june
from tests.inventory.invariants import unchanged
from tests.making import (
    correct_delivery,
    held,
    make_delivery,
    make_helper,
    make_material,
    money,
    spill,
    units,
)
from tests.programs import Program, names_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]


@pytest.fixture
def program(owner: User) -> Program:
    return Program(owner)


@pytest.fixture
def delivery() -> Delivery:
    lines = [(make_material(name=name), units(100), money(10)) for name in ("Amber", "Indigo")]
    return make_delivery(lines=lines, on=june(2))


def path_of(delivery: Delivery, *, preview: bool = False) -> str:
    return f"deliveries/{delivery.pk}/corrections/{'preview/' if preview else ''}"


def wrong_pack(delivery: Delivery, pack: Any = "500 ml", **more: Any) -> dict[str, Any]:
    first = delivery.lines.order_by("pk")[0]
    return {"reason": "Wrong pack size", "lines": [{"lot": first.lot_id, "pack": pack}]} | more


def test_a_preview_shows_every_account_before_and_after_and_writes_nothing(
    program: Program, delivery: Delivery
) -> None:
    lot = delivery.lines.order_by("pk")[0].lot
    spill(lot=lot, quantity=units(50))
    with unchanged():
        effects = program.send(path_of(delivery, preview=True), wrong_pack(delivery), status=200)["effects"]
    on_shelf, lost = effects
    assert (on_shelf["account"], on_shelf["lot"], on_shelf["pour"]) == ("lot", lot.pk, None)
    assert [on_shelf[f"quantity_{when}"]["amount"] for when in ("before", "after")] == [units(50), units(450)]
    assert (on_shelf["money_before"], on_shelf["money_after"]) == ("5.000000", "9.000000")
    assert (lost["account"], lost["quantity_before"], lost["money_after"]) == ("loss", None, "1.000000")


def test_a_correction_answers_with_the_delivery_as_corrected_and_what_it_was_before(
    program: Program, delivery: Delivery
) -> None:
    lot = delivery.lines.order_by("pk")[0].lot
    sent = wrong_pack(delivery, carriage="4.00", received_on="2025-06-01")
    made = program.send(path_of(delivery), sent, key="first")
    assert (made["carriage"], made["received_on"]) == ("4.000000", "2025-06-01")
    assert made["lines"][0]["quantity"]["amount"] == units(500)
    assert held(lot) == (units(500), money(12))
    [past] = made["corrections"]
    assert (past["reason"], past["recorded_by"], past["is_reversed"]) == ("Wrong pack size", "owner", False)
    assert past["posting"] == Posting.objects.get(kind=PostingKind.CORRECTION).number
    figures = {(each["lot"], each["name"]): (each["before"], each["after"]) for each in past["figures"]}
    assert figures[None, "carriage"] == ("£0.00", "£4.00")
    assert figures[lot.pk, "quantity"] == ("100\xa0mL", "500\xa0mL")
    assert program.read(f"deliveries/{delivery.pk}/") == made


def test_the_same_key_corrects_once_though_the_delivery_was_corrected_since(
    program: Program, delivery: Delivery
) -> None:
    program.send(path_of(delivery), wrong_pack(delivery), key="first")
    correct_delivery(delivery, duty=money(1))
    program.send(path_of(delivery), wrong_pack(delivery), key="first", status=200)
    assert Posting.objects.filter(kind=PostingKind.CORRECTION).count() == 2
    problem = program.refusal(path_of(delivery), wrong_pack(delivery, "250 ml"), key="first", status=422)
    assert problem["detail"]


@pytest.mark.parametrize("preview", [True, False])
def test_refusals_say_what_is_wrong_and_where(program: Program, delivery: Delivery, preview: bool) -> None:
    first, second = delivery.lines.order_by("pk")
    path = path_of(delivery, preview=preview)
    refused = program.refusal(path, {"reason": "No rate", "rate": "0.9"}, status=400)
    assert set(refused["errors"]) == {"rate"}
    lines = [{"lot": second.lot_id, "price": "1"}, {"lot": first.lot_id, "price": "1.001"}]
    refused = program.refusal(path, {"reason": "Finer than a penny", "lines": lines}, status=400)
    assert [set(line) for line in refused["errors"]["lines"]] == [set(), {"price"}]
    refused = program.refusal(path, {"reason": "Twice", "lines": [lines[0], lines[0]]}, status=400)
    assert set(refused["errors"]) == {"lines"}
    assert set(program.refusal(path, {"carriage": "1"}, status=400)["errors"]) == {"reason"}
    assert program.refusal(path, {"reason": "Nothing"}, status=422)["detail"]


def test_a_day_below_zero_is_a_conflict(program: Program, delivery: Delivery) -> None:
    spill(lot=delivery.lines.order_by("pk")[0].lot, quantity=units(50), on=june(4))
    problem = program.refusal(path_of(delivery), {"reason": "Later", "received_on": "2025-06-05"}, status=409)
    assert "4 June 2025" in problem["detail"]


def test_only_the_owner_corrects(delivery: Delivery) -> None:
    helper = Program(make_helper(may_see_money=True))
    for preview in (True, False):
        helper.refusal(path_of(delivery, preview=preview), wrong_pack(delivery), status=403)


def test_whoever_sees_no_money_reads_corrections_without_it(program: Program, delivery: Delivery) -> None:
    program.send(path_of(delivery), wrong_pack(delivery, carriage="4.00"))
    seen = Program(make_helper(may_see_money=False)).read(f"deliveries/{delivery.pk}/")
    assert {each["name"] for each in seen["corrections"][0]["figures"]} == {"quantity"}
    assert "carriage" not in names_of(seen)
