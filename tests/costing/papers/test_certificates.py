"""The certificate of a piece: what it says, on which papers, and that it tells no price and no cost."""

import pypdfium2
import pytest

from costing.pieces.calculations import State
from studio.accounts.models import User
from tests.costing.pages import as_user
from tests.costing.stories import a_piece, use_rates

pytestmark = pytest.mark.django_db


def words_of(content: bytes) -> str:
    with pypdfium2.PdfDocument(content) as pdf:
        return " ".join(page.get_textpage().get_text_range() for page in pdf)


@pytest.mark.parametrize("paper", ["A4", "A5", "Letter"])
def test_it_says_what_the_piece_is_and_how_to_care_for_it(helper: User, paper: str) -> None:
    use_rates()
    piece = a_piece(title="Slack water", state=State.FOR_SALE, price="45.00")
    answer = as_user(helper).get(f"/pieces/{piece.pk}/certificate/", {"paper": paper})
    words = words_of(answer.content)
    for text in (
        "Slack water",
        "Acrylic on",
        "ring pour",
        piece.label,
        "2025",
        "soft, dry cloth",
        "Signature",
    ):
        assert text in words
    assert "food or drink" in words
    assert "45.00" not in words
    assert "5.50" not in words


def test_an_unknown_paper_sends_back_to_the_piece_and_a_long_title_breaks_nothing(owner: User) -> None:
    piece = a_piece(title="<b>Slack &amp; water " * 7)
    client = as_user(owner)
    assert client.get(f"/pieces/{piece.pk}/certificate/", {"paper": "A9"}).status_code == 302
    answer = client.get(f"/pieces/{piece.pk}/certificate/")
    assert "<b>Slack &amp;" in words_of(answer.content)
    assert client.get("/pieces/999999/certificate/").status_code == 404
