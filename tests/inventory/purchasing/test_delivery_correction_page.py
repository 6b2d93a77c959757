"""A late change of cost: shown before it is posted, and never below nothing."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from inventory.errors import CannotReverse
from inventory.ledger.models import Posting, PostingKind
from inventory.ledger.verification import check
from studio.accounts.models import User
from tests.inventory.browsing import KEY, as_user, text_of
from tests.inventory.invariants import refused
from tests.making import (
    held,
    make_delivery,
    make_helper,
    make_material,
    make_owner,
    money,
    spill,
    take_back,
    units,
)

pytestmark = pytest.mark.django_db


def correction(line: Any, **changes: str) -> dict[str, str]:
    return {
        "key": KEY,
        "line": str(line.pk),
        "direction": "more",
        "amount": "4.00",
        "on": "2025-06-10",
        "reason": "Late carriage bill",
        "seen": "",
    } | changes


def test_a_correction_is_shown_before_it_is_posted(signed: Client) -> None:
    made = make_delivery(lines=[(make_material(name="Amber"), units(1000), money(10))])
    line = made.lines.get()
    spill(lot=line.lot, quantity=units(250))
    address = reverse("inventory:delivery-correct", args=[made.pk])
    before = Posting.objects.count()

    preview = signed.post(address, correction(line))
    words = text_of(preview)
    assert f"Still in stock Amber, {line.lot.label} £3.00" in words
    assert "In losses and other disposals Spill or dropped bottle £1.00" in words
    assert Posting.objects.count() == before

    posted = signed.post(address, correction(line, seen=preview.context["seen"]))
    assert posted.status_code == 302
    assert held(line.lot) == (units(750), money("10.50"))
    words = text_of(signed.get(posted["Location"]))
    assert f"{line.lot.label} of delivery {made.pk}: Late carriage bill +£4.00" in words


def test_a_changed_amount_is_shown_again_instead_of_posted(signed: Client) -> None:
    made = make_delivery(lines=[(make_material(), units(1000), money(10))])
    address = reverse("inventory:delivery-correct", args=[made.pk])
    seen = signed.post(address, correction(made.lines.get())).context["seen"]
    response = signed.post(address, correction(made.lines.get(), seen=seen, amount="5.00"))
    assert response.status_code == 200
    assert response.context["table"].totals["money"] == money(5)
    assert not Posting.objects.filter(kind=PostingKind.CORRECTION).exists()


def test_a_credit_note_lowers_the_cost_but_never_below_nothing(signed: Client) -> None:
    made = make_delivery(lines=[(make_material(), units(1000), money(10))])
    address = reverse("inventory:delivery-correct", args=[made.pk])
    data = correction(made.lines.get(), direction="less", amount="10.01")
    seen = signed.post(address, data).context["seen"]
    response = signed.post(address, data | {"seen": seen})
    assert response.status_code == 422
    assert "negative cost" in text_of(response)
    data = correction(made.lines.get(), direction="less", amount="2.50", key="1" * 32)
    seen = signed.post(address, data).context["seen"]
    signed.post(address, data | {"seen": seen})
    assert held(made.lines.get().lot) == (units(1000), money("7.50"))


def test_a_wrong_pack_size_is_corrected_after_half_of_it_was_used(signed: Client) -> None:
    made = make_delivery(lines=[(make_material(name="Amber"), units(100), money(10))])
    line = made.lines.get()
    spill(lot=line.lot, quantity=units(50))
    address = reverse("inventory:delivery-correct", args=[made.pk])
    data = correction(line, quantity="500 ml", amount="", reason="Half a litre, not a tenth")
    preview = signed.post(address, data)
    words = text_of(preview)
    assert f"{line.lot.label}: 100 mL received becomes 500 mL." in words
    assert f"Still in stock Amber, {line.lot.label} £4.00" in words
    assert "In losses and other disposals Spill or dropped bottle −£4.00" in words
    assert signed.post(address, data | {"seen": preview.context["seen"]}).status_code == 302
    assert held(line.lot) == (units(450), money(9))
    assert check().breaks == ()
    # A second correction starts from the first.
    data = correction(line, quantity="250 ml", amount="", reason="No, a quarter", key="1" * 32)
    preview = signed.post(address, data)
    assert "500 mL received becomes 250 mL" in text_of(preview)
    signed.post(address, data | {"seen": preview.context["seen"]})
    assert held(line.lot) == (units(200), money(8))
    assert check().breaks == ()


def test_less_than_was_used_is_refused_with_the_day(signed: Client) -> None:
    made = make_delivery(lines=[(make_material(), units(100), money(10))])
    line = made.lines.get()
    spill(lot=line.lot, quantity=units(50))
    address = reverse("inventory:delivery-correct", args=[made.pk])
    response = signed.post(address, correction(line, quantity="40 ml", amount=""))
    if response.status_code == 200:
        data = correction(line, quantity="40 ml", amount="", seen=response.context["seen"])
        response = signed.post(address, data)
    assert response.status_code == 422
    assert "10 mL below zero" in text_of(response)
    assert held(line.lot) == (units(50), money(5))


def test_a_correction_of_nothing_is_refused(signed: Client) -> None:
    made = make_delivery(lines=[(make_material(), units(100), money(10))])
    address = reverse("inventory:delivery-correct", args=[made.pk])
    for quantity in ("", "100 ml"):
        response = signed.post(address, correction(made.lines.get(), quantity=quantity, amount=""))
        assert response.status_code == 422
    assert not Posting.objects.filter(kind=PostingKind.CORRECTION).exists()


def test_a_delivery_whose_quantity_was_corrected_is_not_reversed_underneath(signed: Client) -> None:
    made = make_delivery(lines=[(make_material(), units(100), money(10))])
    line = made.lines.get()
    address = reverse("inventory:delivery-correct", args=[made.pk])
    data = correction(line, quantity="500 ml", amount="")
    signed.post(address, data | {"seen": signed.post(address, data).context["seen"]})
    posting = Posting.objects.get(kind=PostingKind.CORRECTION)
    with refused(CannotReverse, match=f"corrected by posting {posting.number}"):
        take_back(made.posting)
    take_back(posting)
    assert held(line.lot) == (units(100), money(10))
    take_back(made.posting)
    assert held(line.lot) == (0, 0)
    assert check().breaks == ()


def test_only_the_owner_corrects_a_cost(bookkeeper: User) -> None:
    made = make_delivery(lines=[(make_material(), units(1000), money(10))])
    address = reverse("inventory:delivery-correct", args=[made.pk])
    assert as_user(make_helper(may_see_money=True)).get(address).status_code == 403
    assert as_user(bookkeeper).get(address).status_code == 403
    assert as_user(make_owner()).get(address).status_code == 200


def test_a_delivery_taken_back_has_no_cost_to_correct(signed: Client) -> None:
    made = make_delivery(lines=[(make_material(), units(1000), money(10))])
    take_back(made.posting)
    assert signed.get(reverse("inventory:delivery-correct", args=[made.pk])).status_code == 302
