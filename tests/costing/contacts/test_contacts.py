"""Contacts are given out and erased on request; the books and the change log never held their names."""

import json
from io import StringIO

import pytest
from auditlog.models import LogEntry
from django.core.management import call_command
from django.urls import reverse

from costing.contacts.actions import add_contact, erase_contact
from costing.contacts.models import Contact
from costing.locations.queries import where_is
from costing.pieces.calculations import State
from costing.selling.actions import sell
from inventory.ledger.models import Posting
from studio.accounts.models import User
from studio.auditing.reference_rows import save_row
from studio.errors import InputError
from tests.costing.locations.stories import lend, make_contact, make_gallery, move, reserve
from tests.costing.pages import as_user, text_of
from tests.costing.stories import LATER, a_piece, make_channel
from tests.days import june
from tests.making import make_bookkeeper, make_helper, make_submission, money
from tests.programs import Program

pytestmark = pytest.mark.django_db


def test_a_contact_needs_a_name() -> None:
    with pytest.raises(InputError):
        add_contact(name=" ", submission=make_submission())


def test_the_page_to_change_a_contact_leads_back_by_its_name() -> None:
    contact = add_contact(name="Wenda Tarpot", submission=make_submission())
    page = as_user(make_helper()).get(reverse("costing:contact-edit", args=[contact.pk]))
    assert page.context["back_label"] == "Wenda Tarpot"


def test_an_erased_contact_leaves_no_trace_and_the_books_as_they_were() -> None:
    contact = add_contact(name="Wenda Tarpot", reach="wenda@example.org", submission=make_submission())
    lent, reserved = a_piece(), a_piece(title="Ebb", state=State.FOR_SALE)
    lend(lent, contact, note="For Wenda's show")
    move([lent], None)
    lend(lent, contact, on=june(10), note="Wenda again")
    reserve(reserved, contact, note="Wenda calls back")
    contact.note = "Wenda paints too"
    save_row(contact, submission=make_submission())
    hashes = list(Posting.objects.values_list("number", "hash"))
    erase_contact(contact=contact, submission=make_submission())
    assert not Contact.objects.exists()
    assert (where_is(lent).kind, where_is(lent).lent_to) == ("lent", None)
    left = json.dumps([*lent.placements.values(), *reserved.steps.values("reservations__note")], default=str)
    logged = json.dumps(list(LogEntry.objects.values()), default=str)
    assert "Wenda" not in left + logged
    assert list(Posting.objects.values_list("number", "hash")) == hashes


def test_a_gallery_whose_contact_is_erased_stays_and_the_books_hold() -> None:
    contact, gallery = make_contact(), make_gallery()
    gallery.contact = contact
    save_row(gallery, submission=make_submission())
    erase_contact(contact=contact, submission=make_submission())
    gallery.refresh_from_db()
    assert gallery.contact is None
    call_command("check_books", stdout=StringIO())


def test_an_owner_takes_out_everything_that_is_kept_of_a_contact(owner: User) -> None:
    contact, piece = make_contact(), a_piece(state=State.FOR_SALE)
    reserve(piece, contact, until=june(20), note="Deposit promised")
    answer = as_user(owner).get(reverse("costing:contact-file", args=[contact.pk]))
    assert answer.json() == {
        "name": "Wenda Tarpot",
        "reach": "wenda@example.org",
        "note": "Likes blue",
        "dealings": [
            {
                "what": "Reserved",
                "piece": piece.title,
                "on": "2025-06-09",
                "until": "2025-06-20",
                "price": None,
                "note": "Deposit promised",
            }
        ],
    }
    listed = as_user(owner).get(reverse("costing:contact", args=[contact.pk]), {"export": "csv"})
    assert "Deposit promised" in listed.content.decode()


def test_only_owners_erase_and_take_out(owner: User) -> None:
    contact = make_contact()
    helper = as_user(make_helper())
    assert helper.get(reverse("costing:contact", args=[contact.pk])).status_code == 200
    for name in ("contact-file", "contact-erase"):
        assert helper.get(reverse(f"costing:{name}", args=[contact.pk])).status_code == 403
    assert Program(make_helper()).post(f"contacts/{contact.pk}/erase/").status_code == 403
    as_user(owner).post(reverse("costing:contact-erase", args=[contact.pk]), {"seen": ""})
    assert not Contact.objects.exists()


def test_a_bookkeeper_reads_no_contacts_and_sees_no_names() -> None:
    contact, piece = make_contact(), a_piece(state=State.FOR_SALE)
    reserve(piece, contact)
    bookkeeper = make_bookkeeper()
    assert Program(bookkeeper).get("contacts/").status_code == 403
    assert Program(bookkeeper).get("reservations/").status_code == 403
    page = text_of(as_user(bookkeeper).get(reverse("costing:piece", args=[piece.pk])))
    assert "Reserved" in page
    assert contact.name not in page


def test_a_program_keeps_contacts(owner: User) -> None:
    program = Program(owner)
    made = program.send("contacts/", {"name": "Slipway Gallery", "reach": "Harbour Row"})
    assert program.read(f"contacts/{made['id']}/")["dealings"] == []
    assert [each["name"] for each in program.read("contacts/", search="slip")["results"]] == [
        "Slipway Gallery"
    ]
    program.send(f"contacts/{made['id']}/erase/", status=200)
    assert program.get(f"contacts/{made['id']}/").status_code == 404


def test_a_contact_sent_again_under_its_key_is_the_same_one(owner: User) -> None:
    program, body = Program(owner), {"name": "Slipway Gallery"}
    made = program.send("contacts/", body, key="a")
    assert program.send("contacts/", body, key="a", status=200) == made
    assert (
        program.refusal("contacts/", {"name": "Jetty Gallery"}, key="a", status=422)["kind"] == "key-reused"
    )
    assert Program(make_helper()).send("contacts/", body, key="a")["id"] != made["id"]
    assert Contact.objects.count() == 2
    program.send(f"contacts/{made['id']}/erase/", status=200)
    assert Contact.objects.count() == 1


def test_a_program_changes_a_contact_unless_somebody_was_faster() -> None:
    contact, program = make_contact(), Program(make_helper())
    one = f"contacts/{contact.pk}/"
    seen = program.get(one).headers["ETag"]
    body = {"name": "Wenda Tarpot", "reach": "The sail loft", "note": ""}
    first = program.post(f"{one}change/", body, if_match=seen)
    assert (first.status_code, first.json()["reach"], first.json()["note"]) == (200, "The sail loft", "")
    late = program.post(f"{one}change/", body | {"reach": "The ferry office"}, if_match=seen)
    assert late.status_code == 412
    assert program.post(f"{one}change/", body, if_match=first.headers["ETag"]).status_code == 200
    assert program.post(f"{one}change/", body, if_match="soon").status_code == 400
    contact.refresh_from_db()
    assert contact.reach == "The sail loft"


@pytest.mark.parametrize(
    "body",
    [{"name": " "}, {"name": "x" * 81}, {}, {"name": "Ebb", "reach": "x" * 301}, {"name": "Ebb", "age": 3}],
)
def test_a_contact_that_makes_no_sense_is_refused_to_programs(body: dict[str, object]) -> None:
    contact, program = make_contact(), Program(make_helper())
    for path in ("contacts/", f"contacts/{contact.pk}/change/"):
        assert program.post(path, body).status_code in (400, 422)
    assert Contact.objects.get().name == contact.name
    assert (
        Program(make_bookkeeper()).post(f"contacts/{contact.pk}/change/", {"name": "Ebb"}).status_code == 403
    )


def test_what_was_noted_of_a_buyer_at_a_sale_stands_in_no_posting() -> None:
    piece = a_piece(state=State.FOR_SALE, price="45.00")
    sell(
        piece=piece,
        channel=make_channel(),
        price=money(45),
        note="For Wenda Tarpot",
        submission=make_submission(on=LATER),
    )
    assert not Posting.objects.filter(note__contains="Wenda").exists()
