"""A write-off far from what was written off of that material before is asked about, and confirmed once."""

import pytest
from django.test import Client
from django.urls import reverse

from inventory.ledger.models import Lot, Posting
from studio.accounts.models import User
from tests.days import TODAY
from tests.inventory.browsing import KEY, text_of
from tests.inventory.sessions.test_session_questions import asked
from tests.making import make_lot, make_material, spill, the_reason, units
from tests.programs import Program

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("books_hold")]

QUESTION = "Lantern Amber written off: 900 mL. Your last 5 were 20 mL to 30 mL."


@pytest.fixture
def lot(db: None) -> Lot:
    lot = make_lot(material=make_material(name="Lantern Amber"), quantity=units(2_000))
    for quantity in (20, 20, 25, 30, 30):
        spill(lot=lot, quantity=units(quantity))
    return lot


def test_the_page_asks_and_the_posting_says_who_confirmed(signed: Client, lot: Lot) -> None:
    address, before = reverse("inventory:write-off", args=[lot.pk]), Posting.objects.count()
    data = {
        "key": KEY,
        "quantity": "900 ml",
        "reason": the_reason().pk,
        "on": TODAY.isoformat(),
        "note": "Dropped",
    }
    response = signed.post(address, data)
    assert (response.status_code, Posting.objects.count()) == (422, before)
    assert QUESTION in text_of(response)
    # What was written off is not what the tick stands for: no field of the form confirms by itself.
    assert response.content.decode().count('name="confirm"') == 1

    assert signed.post(address, data | {"confirm": asked(response)}).status_code == 302
    words = text_of(signed.get(reverse("inventory:posting", args=[before + 1])))
    assert f"{QUESTION} Confirmed by owner" in words


def test_a_usual_write_off_goes_through(signed: Client, lot: Lot) -> None:
    data = {"key": KEY, "quantity": "40 ml", "reason": the_reason().pk, "on": TODAY.isoformat()}
    assert signed.post(reverse("inventory:write-off", args=[lot.pk]), data).status_code == 302


def test_a_program_confirms_in_a_field(owner: User, lot: Lot) -> None:
    body = {"lot": lot.pk, "quantity": "900 ml", "reason": the_reason().pk, "on": TODAY.isoformat()}
    program = Program(owner)
    [question] = program.refusal("write-offs/", body, key="drop", status=409)["questions"]
    made = program.send("write-offs/", body | {"confirmed": [question["token"]]}, key="drop")
    assert made["posting"]["confirmed"][0]["topic"] == "write-off"
