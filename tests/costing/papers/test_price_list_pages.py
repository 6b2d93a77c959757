"""The price list on the page and on paper: what is chosen, what is left out, and the files that are printed."""

from io import BytesIO
from pathlib import Path
from typing import Any

import pypdfium2
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.http import FileResponse
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from PIL import Image
from pytest_django import Settings

from costing.pieces.actions.photos import store_photo
from costing.pieces.calculations import State
from costing.pieces.models import Piece
from inventory.sessions.models import Technique
from studio.accounts.models import User
from studio.pages.papers import pdf_answer
from studio.preferences.models import Studio
from tests.costing.pages import NASTY, as_user, text_of
from tests.costing.stories import a_piece
from tests.making import make_submission

pytestmark = pytest.mark.django_db


@pytest.fixture
def signed(owner: User) -> Client:
    return as_user(owner)


def hung(title: str, price: str | None = "45.00", state: State = State.FOR_SALE) -> Piece:
    return a_piece(title=title, price=price, state=state)


def chosen(**facts: Any) -> dict[str, Any]:
    """The choices as the page's form sends them."""
    return {"order": "title", "on": "2025-06-10", "paper": "A4", "start": "1"} | facts


def listed(response: Any) -> list[str]:
    return [row.title for row in response.context["listed"]]


def words_of(response: Any) -> list[str]:
    """What stands on each page of a PDF."""
    return words_in(response.getvalue())


def words_in(content: bytes) -> list[str]:
    with pypdfium2.PdfDocument(content) as pdf:
        return [page.get_textpage().get_text_range() for page in pdf]


# The page


def test_everything_for_sale_is_on_the_list_at_first(signed: Client) -> None:
    hung("Ebb")
    hung("Flood", state=State.RESERVED)
    hung("Slack", state=State.DRY)
    response = signed.get(reverse("costing:price-list"))
    assert listed(response) == ["Ebb"]
    words = text_of(response)
    assert "Acrylic on material, ring pour, 2025 30 × 30 cm 11.8 × 11.8 in £45.00" in words
    assert "not tax or legal advice" in words
    assert response.context["form"]["paper"].value() == "A4"


def test_the_studios_own_paper_is_chosen_at_first(signed: Client) -> None:
    Studio.objects.update(paper="Letter")
    hung("Ebb")
    assert signed.get(reverse("costing:price-list")).context["form"]["paper"].value() == "Letter"


def test_pieces_without_a_price_are_named_with_a_link(signed: Client) -> None:
    piece = hung("Ebb", price=None)
    response = signed.get(reverse("costing:price-list"))
    assert "Not on the list because they have no price: Ebb" in text_of(response)
    assert f"{reverse('costing:piece', args=[piece.pk])}#price" in response.content.decode()


def test_the_list_is_ordered_filtered_and_narrowed_to_single_pieces(signed: Client) -> None:
    ebb, flood = hung("Ebb", "60.00"), hung("Flood", "20.00")
    hung("In stock", "30.00", State.RESERVED)
    address = reverse("costing:price-list")
    ring = Technique.objects.get(name="Ring pour").pk
    assert listed(signed.get(address, chosen(order="price"))) == ["Flood", "Ebb"]
    assert listed(signed.get(address, chosen(reserved="on"))) == ["Ebb", "Flood", "In stock"]
    assert listed(signed.get(address, chosen(technique=Technique.objects.get(name="Swipe").pk))) == []
    assert listed(signed.get(address, chosen(technique=ring, p=[ebb.pk], under=str(ring)))) == ["Ebb"]
    # Ticks made under another filter say nothing about what fits this one.
    assert listed(signed.get(address, chosen(p=[ebb.pk], under=str(ring)))) == ["Ebb", "Flood"]
    assert listed(signed.get(address, chosen(p=[flood.pk, "x", 10**20], under="0"))) == ["Flood"]
    assert "No piece is ticked" in text_of(signed.get(address, chosen(under="0")))


def test_nothing_for_sale_teaches_and_nothing_that_fits_leads_back(signed: Client) -> None:
    assert "Nothing is for sale yet" in text_of(signed.get(reverse("costing:price-list")))
    hung("Ebb")
    swipe = Technique.objects.get(name="Swipe").pk
    words = text_of(signed.get(reverse("costing:price-list"), chosen(technique=swipe)))
    assert "Nothing for sale matches" in words


@pytest.mark.parametrize(
    "facts",
    [{"on": "soon"}, {"paper": "napkin"}, {"order": "colour"}, {"technique": "999999"}, {"start": "0"}],
)
def test_what_cannot_be_read_is_said_on_the_page(signed: Client, facts: dict[str, str]) -> None:
    hung("Ebb")
    assert signed.get(reverse("costing:price-list"), chosen(**facts)).context["form"].errors
    for name in ("price-list-paper", "price-labels"):
        response = signed.get(reverse(f"costing:{name}"), chosen(**facts))
        assert response.status_code == 422
        assert response["Content-Type"].startswith("text/html")


# The papers


@pytest.mark.parametrize(
    ("paper", "width", "height"), [("A4", 210, 297), ("A5", 148, 210), ("Letter", 215.9, 279.4)]
)
def test_the_list_is_printed_on_the_chosen_paper(
    signed: Client, paper: str, width: float, height: float
) -> None:
    """A4 and A5: ISO 216, millimetres; US Letter is 8.5 × 11 in."""
    hung("Ebb")
    response = signed.get(
        reverse("costing:price-list-paper"), chosen(paper=paper, place="Lantern Quay spring market")
    )
    assert response["Content-Type"] == "application/pdf"
    assert response["Content-Disposition"] == 'inline; filename="price-list-2025-06-10.pdf"'
    assert response["X-Content-Type-Options"] == "nosniff"
    content = response.getvalue()
    (words,) = words_in(content)
    assert "Ebb" in words
    assert "£45.00" in words
    assert "Lantern Quay spring market, 10 Jun 2025" in words
    with pypdfium2.PdfDocument(content) as pdf:
        assert pdf[0].get_size() == pytest.approx((width / 25.4 * 72, height / 25.4 * 72), abs=0.1)


def test_the_list_is_sent_out_of_a_file(signed: Client) -> None:
    hung("Ebb")
    response = signed.get(reverse("costing:price-list-paper"), chosen())
    assert isinstance(response, FileResponse)
    content = response.getvalue()
    assert response["Content-Length"] == str(len(content))
    assert content.rstrip().endswith(
        b"%%EOF"
    )  # nothing was cut off: the last line of a PDF (ISO 32000-1, 7.5.5)


def test_a_file_is_closed_once_it_was_sent() -> None:
    file = BytesIO(b"%PDF-1.4")
    answer = pdf_answer(file, "price-list")
    assert b"".join(answer) == b"%PDF-1.4"
    answer.close()
    assert file.closed


def test_only_the_ticked_pieces_are_printed(signed: Client) -> None:
    ebb = hung("Ebb")
    hung("Flood")
    for name in ("price-list-paper", "price-labels"):
        (words,) = words_of(signed.get(reverse(f"costing:{name}"), chosen(p=[ebb.pk], under="0")))
        assert "Ebb" in words
        assert "Flood" not in words


def test_photos_are_printed_when_they_are_wanted(signed: Client, settings: Settings, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path
    out = BytesIO()
    Image.new("RGB", (60, 40), (20, 90, 110)).save(out, "PNG")
    store_photo(
        piece=hung("Ebb"), upload=SimpleUploadedFile("x.png", out.getvalue()), submission=make_submission()
    )
    address = reverse("costing:price-list-paper")
    assert b"/Subtype /Image" in signed.get(address, chosen(photos="on")).getvalue()
    assert b"/Subtype /Image" not in signed.get(address, chosen()).getvalue()
    page = signed.get(reverse("costing:price-list"), chosen(photos="on")).content.decode()
    assert reverse("costing:piece-thumbnail", args=[Piece.objects.get().pk]) in page


def test_labels_start_where_the_sheet_is_still_whole(signed: Client) -> None:
    for title in ("Ebb", "Flood"):
        hung(title)
    response = signed.get(reverse("costing:price-labels"), chosen(start="21"))
    assert response["Content-Disposition"] == 'inline; filename="price-labels-2025-06-10.pdf"'
    first, second = words_of(response)  # an A4 sheet holds 21 labels
    assert ("Ebb" in first, "Flood" in second) == (True, True)


def test_labels_on_a_sheet_of_her_own_and_what_cannot_be_is_refused_on_the_page(signed: Client) -> None:
    hung("Ebb")
    own = {
        "sheet": "own",
        "across": "2",
        "down": "4",
        "label_width": "60",
        "label_height": "45",
        "gap_x": "4",
    }
    printed = signed.get(reverse("costing:price-labels"), chosen(paper="A5", kind="wall", copies="2", **own))
    assert words_of(printed)[0].count("Ebb") == 2
    for wrong, advice in (
        ({"label_width": "90"}, "wider than the paper"),
        ({"label_height": "70"}, "higher than the paper"),
        ({"down": ""}, "Enter this measure"),
        ({"left": "-2"}, "greater than or equal to 0"),
    ):
        response = signed.get(reverse("costing:price-labels"), chosen(paper="A5", **own | wrong))
        assert (response.status_code, advice in text_of(response)) == (422, True), wrong
    response = signed.get(reverse("costing:price-labels"), chosen(start="25"))
    assert "This sheet has labels 1 to 21" in text_of(response)
    response = signed.get(reverse("costing:price-labels"), chosen(under="0"))
    assert "Choose at least one thing" in text_of(response)


# Who may, and how much it asks of the database


def test_those_who_see_no_money_see_no_price_list(helper: User, stranger: User) -> None:
    for name in ("price-list", "price-list-paper", "price-labels"):
        address = reverse(f"costing:{name}")
        assert as_user(helper).get(address).status_code == 403
        assert as_user(stranger).get(address)["Location"].startswith(reverse("login"))


def test_the_bookkeeper_prints_it_too(bookkeeper: User) -> None:
    hung("Ebb")
    (words,) = words_of(as_user(bookkeeper).get(reverse("costing:price-list-paper"), chosen()))
    assert "Ebb" in words


def test_a_hostile_name_is_written_as_text(signed: Client) -> None:
    hung(NASTY)
    hung(NASTY + "2", price=None)
    page = signed.get(reverse("costing:price-list"), chosen(place=NASTY)).content.decode()
    assert NASTY not in page
    assert "&lt;script&gt;" in page
    (words,) = words_of(signed.get(reverse("costing:price-list-paper"), chosen(place=NASTY)))
    assert NASTY in words


@pytest.mark.parametrize("name", ["price-list", "price-list-paper"])
def test_the_number_of_queries_does_not_grow_with_the_pieces(signed: Client, name: str) -> None:
    def count(more: int) -> int:
        for number in range(more):
            hung(f"Piece {number}")
        with CaptureQueriesContext(connection) as queries:
            assert signed.get(reverse(f"costing:{name}"), chosen()).getvalue()
        return len(queries)

    count(1)
    assert count(2) == count(9)
