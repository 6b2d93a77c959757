"""Papers as they were issued: what they said stays, whatever is changed later."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from costing.contacts.actions import erase_contact
from costing.contacts.models import Contact
from costing.papers.certificates import CERTIFICATE
from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.selling.documents import RECEIPT
from studio.accounts.models import User
from studio.issued.actions import issue
from studio.issued.contents import from_plain, to_plain
from studio.issued.models import IssuedPaper
from studio.papers.frame import PageFrame
from studio.papers.lines import Document, Line, LinesPaper
from studio.preferences.models import Studio
from tests.costing.pages import as_user
from tests.costing.selling.test_receipts import a_sale, printed
from tests.costing.stories import a_piece
from tests.making import (
    make_bookkeeper,
    make_helper,
    make_material,
    make_order,
    make_submission,
    money,
    units,
)
from tests.programs import Program
from tests.studio.papers.test_paper import read_pages

pytestmark = pytest.mark.django_db


def issue_by_page(client: Client, kind: str, pk: int) -> Any:
    return client.post(reverse("issue-paper", args=[kind, pk]))


def words_of(client: Client, paper: IssuedPaper) -> str:
    answer = client.get(reverse("issued-paper", args=[paper.pk]))
    assert answer.headers["Content-Type"] == "application/pdf"
    return " ".join(read_pages(answer.content))


def rename_everything() -> None:
    Piece.objects.filter(title="Ebb").update(title="Renamed since")
    Studio.objects.update(name="Another name")


def test_a_receipt_printed_again_shows_what_it_showed_when_it_was_issued(owner: User) -> None:
    sale, client = a_sale(buyer="Ferry master"), as_user(owner)
    assert "Not issued yet" in printed(client, "sale-receipt", sale.pk)
    issue_by_page(client, "receipt", sale.pk)
    before = printed(client, "sale-receipt", sale.pk)
    assert "Not issued yet" not in before
    rename_everything()
    Contact.objects.update(reach="9 Gull Row")
    assert printed(client, "sale-receipt", sale.pk) == before
    assert "Ebb" in before
    assert "2 Buoy Lane" in before


def test_a_paper_stays_in_the_language_that_it_was_issued_in(owner: User) -> None:
    """What is named only as the paper is drawn too: the total, and the number of the page."""
    sale, client = a_sale(), as_user(owner)
    issue_by_page(client, "receipt", sale.pk)
    before = printed(client, "sale-receipt", sale.pk)
    Studio.objects.update(language="de")
    User.objects.update(language="de")
    assert printed(client, "sale-receipt", sale.pk) == before
    assert words_of(client, IssuedPaper.objects.get()) == before


def test_a_receipt_is_issued_once_however_often_it_is_asked_for(owner: User) -> None:
    sale, client = a_sale(), as_user(owner)
    for _time in range(2):
        issue_by_page(client, "receipt", sale.pk)
        rename_everything()
    assert IssuedPaper.objects.get().version == 1


def test_a_certificate_is_issued_anew_only_when_it_says_something_else(owner: User) -> None:
    piece, client = a_piece(title="Ebb", state=State.FOR_SALE), as_user(owner)
    for _time in range(2):
        issue_by_page(client, "certificate", piece.pk)
    rename_everything()
    issue_by_page(client, "certificate", piece.pk)
    second, first = IssuedPaper.objects.all()
    assert (first.version, second.version) == (1, 2)
    assert "Ebb" in words_of(client, first)
    assert "Renamed since" in words_of(client, second)


def test_an_erased_contact_is_erased_from_what_was_issued_and_the_rest_stays(owner: User) -> None:
    sale, client = a_sale(buyer="Ferry master"), as_user(owner)
    paper = issue(kind=RECEIPT, about=sale.pk, submission=make_submission())
    assert "Ferry master" in words_of(client, paper)
    erase_contact(contact=Contact.objects.get(), submission=make_submission())
    words = words_of(client, paper)
    assert "Ferry master" not in words
    assert "2 Buoy Lane" not in words
    assert "Total £81.00" in words


def test_whoever_may_not_see_contacts_reads_it_without_the_buyer() -> None:
    paper = issue(kind=RECEIPT, about=a_sale(buyer="Ferry master").pk, submission=make_submission())
    assert "Ferry master" in words_of(as_user(make_helper()), paper)
    assert "Ferry master" not in words_of(as_user(make_bookkeeper()), paper)


def test_an_order_is_issued_from_its_page_and_says_what_it_said(owner: User) -> None:
    material = make_material(name="Sail Loft White")
    order, client = make_order((material, units(500), money("17.43"))), as_user(owner)
    page = reverse("inventory:order", args=[order.pk])
    assert reverse("issue-paper", args=["order", order.pk]) in client.get(page).content.decode()
    assert issue_by_page(client, "order", order.pk)["Location"] == page
    type(material).objects.update(name="Renamed since")
    words = words_of(client, IssuedPaper.objects.get())
    assert "Sail Loft White" in words
    assert "Renamed since" not in words


def test_a_paper_of_nothing_and_an_unknown_kind_are_not_found(owner: User) -> None:
    client = as_user(owner)
    assert issue_by_page(client, "receipt", 999).status_code == 404
    assert issue_by_page(client, "napkin", 1).status_code == 404
    assert not IssuedPaper.objects.exists()


def test_a_program_issues_lists_and_prints(owner: User) -> None:
    piece, program = a_piece(title="Ebb", state=State.FOR_SALE), Program(owner)
    made = program.post("issued-papers/", {"kind": "certificate", "about": piece.pk}).json()
    rename_everything()
    assert [row["id"] for row in program.read("issued-papers/")["results"]] == [made["id"]]
    answer = program.get(f"papers/issued/{made['id']}/")
    assert "Ebb" in " ".join(read_pages(answer.content))
    assert program.post("issued-papers/", {"kind": "napkin", "about": 1}).status_code == 400


def test_a_document_comes_back_as_it_was_kept() -> None:
    lines = LinesPaper(
        addresses=[("From", ["Wrackline"]), ("To", ["Ferry master", "2 Buoy Lane"])],
        facts=[("Number", "1")],
        name_head="Piece",
        heads=["Price"],
        shares=[0.2],
        lines=[Line("Ebb", "P0001", ["£4.00"]), Line("Sum", "", ["£4.00"], "sum")],
        total="£4.00",
        signatures=["Signature"],
    )
    document = Document(
        "receipt-1", PageFrame("Wrackline", "Receipt 1", contact=["wrackline@example.org"]), lines
    )
    contents, addressee = to_plain(document)
    assert "Ferry master" not in str(contents)
    assert from_plain(contents, addressee, logo=None).draw("A4") == document.draw("A4")


def test_the_pages_that_issue_say_what_was_issued(owner: User) -> None:
    piece, client = a_piece(state=State.FOR_SALE), as_user(owner)
    issue(kind=CERTIFICATE, about=piece.pk, submission=make_submission())
    page = client.get(reverse("costing:piece", args=[piece.pk])).content.decode()
    assert reverse("issued-paper", args=[IssuedPaper.objects.get().pk]) in page
