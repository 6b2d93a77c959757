"""A posting is taken back only by whoever may post the like of it: by page, by program and with one touch."""

from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.test import Client
from django.urls import reverse

from inventory.ledger.models import Posting
from inventory.ledger.reversals import may_reverse
from inventory.ledger.reversals import reverse as reverse_posting
from studio.accounts.models import User
from tests.inventory.browsing import as_user, text_of
from tests.making import (
    correct,
    make_bookkeeper,
    make_delivery,
    make_helper,
    make_lot,
    make_material,
    make_opening,
    make_owner,
    make_submission,
    money,
    spill,
    units,
)

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]


def a_posting(kind: str) -> Posting:
    if kind == "opening":
        make_opening(lines=[(make_material(), units(10), money(2))])
    elif kind == "delivery":
        make_delivery(lines=[(make_material(), units(10), money(2))])
    elif kind == "correction":
        correct(lot=make_lot(), difference=money(1))
    else:
        spill(lot=make_lot(), quantity=units(1))
    return Posting.objects.latest("number")


def reversed_by_page(client: Client, posting: Posting) -> Any:
    return client.post(
        reverse("inventory:posting-reverse", args=[posting.pk]), {"key": "a" * 32, "reason": "x"}
    )


def reversed_at_once(client: Client, posting: Posting) -> Any:
    return client.post(reverse("inventory:posting-undo", args=[posting.pk]), {"key": "a" * 32})


def reversed_by_program(client: Client, posting: Posting) -> Any:
    address = f"/api/postings/{posting.pk}/reverse/"
    return client.post(address, {}, content_type="application/json", headers={"Idempotency-Key": "a"})


@pytest.mark.parametrize("how", [reversed_by_page, reversed_at_once, reversed_by_program])
@pytest.mark.parametrize("kind", ["opening", "delivery", "correction"])
def test_a_helper_who_sees_no_money_takes_back_nothing_that_is_about_money(kind: str, how: Any) -> None:
    posting, helper = a_posting(kind), make_helper()
    assert how(as_user(helper), posting).status_code == 403
    with pytest.raises(PermissionDenied):
        reverse_posting(posting=posting, submission=make_submission(by=helper))
    assert not Posting.objects.filter(reverses=posting).exists()


@pytest.mark.parametrize(
    ("kind", "may"), [("opening", "OT"), ("delivery", "OT"), ("correction", "O"), ("write_off", "OTH")]
)
def test_who_may_post_it_may_reverse_it(kind: str, may: str) -> None:
    posting = a_posting(kind)
    people: dict[str, User] = {
        "O": make_owner(), "T": make_helper(may_see_money=True), "H": make_helper(), "B": make_bookkeeper(),
    }  # fmt: skip
    assert "".join(who for who, person in people.items() if may_reverse(person, posting)) == may


def test_what_a_helper_may_not_reverse_is_not_offered() -> None:
    posting = a_posting("delivery")
    for person, is_offered in ((make_owner(), True), (make_helper(), False)):
        page = text_of(as_user(person).get(reverse("inventory:posting", args=[posting.pk])))
        assert ("Reverse" in page.split("Movements")[1]) is is_offered
