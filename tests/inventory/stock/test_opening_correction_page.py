"""Opening stock put right on its page and over JSON: it opens with what is recorded, and shows what changes first."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from inventory.ledger.models import Lot, Posting, PostingKind
from studio.accounts.models import User
from tests.days import june
from tests.inventory.browsing import KEY, as_user, text_of
from tests.inventory.invariants import unchanged
from tests.making import held, make_helper, make_material, make_opening, money, spill, units
from tests.programs import Program

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]


@pytest.fixture
def posting() -> Posting:
    lines = [(make_material(name=name), units(100), money(10)) for name in ("Amber", "Indigo")]
    made = make_opening(lines=lines, on=june(2))
    spill(lot=first_lot(made), quantity=units(50), on=june(4))
    return made


def first_lot(posting: Posting) -> Lot:
    return Lot.objects.filter(entries__posting=posting).order_by("pk")[0]


def as_opened(response: Any) -> dict[str, str]:
    """What a browser sends back of a page that nobody has typed into."""
    context = response.context
    forms = [context["form"], context["formset"].management_form, *context["formset"]]
    values = {field.html_name: field.value() for form in forms for field in form}
    data = {name: "" if value is None else str(value) for name, value in values.items()}
    return data | {"seen": context["seen"], "key": KEY, "reason": "Counted again"}


def address_of(posting: Posting) -> str:
    return reverse("inventory:opening-stock-correct", args=[posting.pk])


def test_an_amount_is_shown_before_it_is_posted_and_told_afterwards(signed: Client, posting: Posting) -> None:
    lot = first_lot(posting)
    page = as_opened(signed.get(address_of(posting)))
    assert (page["received_on"], page["lines-0-quantity"], page["lines-0-money"]) == (
        "2025-06-02",
        "100 mL",
        "10.00",
    )
    shown = signed.post(address_of(posting), page | {"lines-0-quantity": "500 ml"})
    rows = {row.name: (row.quantity, row.before, row.after) for row in shown.context["table"].rows}
    assert rows[f"Amber, {lot.label}"] == ("50\xa0mL → 450\xa0mL", money(5), money(9))
    assert not Posting.objects.filter(kind=PostingKind.CORRECTION).exists()
    posted = signed.post(address_of(posting), as_opened(shown))
    assert posted.status_code == 302
    assert held(lot) == (units(450), money(9))
    correction = Posting.objects.get(kind=PostingKind.CORRECTION)
    for name, pk in (("lot", lot.pk), ("posting", correction.pk)):
        words = text_of(signed.get(reverse(f"inventory:{name}", args=[pk])))
        assert f"Amber, {lot.label}: Amount from 100 mL to 500 mL" in words


def test_the_lot_and_the_posting_lead_the_owner_there(signed: Client, posting: Posting) -> None:
    lot = first_lot(posting)
    for page in (reverse("inventory:lot", args=[lot.pk]), reverse("inventory:posting", args=[posting.pk])):
        assert f'href="{address_of(posting)}"' in signed.get(page).content.decode()
        helper = as_user(make_helper(may_see_money=True))
        assert address_of(posting) not in helper.get(page).content.decode()


def test_nothing_changed_is_refused(signed: Client, posting: Posting) -> None:
    page = as_opened(signed.get(address_of(posting)))
    with unchanged():
        refused = signed.post(address_of(posting), page)
    assert refused.status_code == 422
    assert "nothing to correct" in text_of(refused)


def test_a_program_sees_and_posts_the_same(owner: User, posting: Posting) -> None:
    program, lot = Program(owner), first_lot(posting)
    path = f"opening-stock/{posting.pk}/corrections/"
    sent = {"reason": "Counted again", "lines": [{"lot": lot.pk, "quantity": "500 ml", "money": "20.00"}]}
    with unchanged():
        effects = program.send(f"{path}preview/", sent, status=200)["effects"]
    assert effects[0]["quantity_after"]["amount"] == units(450)
    made = program.send(path, sent, key="once")
    assert (made["posting"]["kind"], made["posting"]["corrects"]) == ("correction", posting.pk)
    program.send(path, sent, key="once", status=200)
    assert held(lot) == (units(450), money(18))


def test_a_program_is_told_which_line_is_wrong(owner: User, posting: Posting) -> None:
    last = Lot.objects.filter(entries__posting=posting).order_by("-pk")[0]
    sent = {"reason": "x", "lines": [{"lot": last.pk, "quantity": "0 ml"}]}
    problem = Program(owner).refusal(f"opening-stock/{posting.pk}/corrections/", sent, status=400)
    assert "lines" in str(problem["errors"])
