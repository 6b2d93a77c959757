"""Six pours become six titled, photographed, priced pieces for sale on one page of a phone; the touches are counted."""

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, expect

from costing.pieces.calculations import State
from costing.pieces.models import Piece
from inventory.ledger.verification import check
from inventory.sessions.models import Session
from studio.accounts.actions import add_person
from studio.accounts.models import Role, User
from tests.browser.chromium import PHONE, Screen
from tests.browser.steps import Visitor
from tests.browser.watching import measure
from tests.costing.pieces.test_pieces_together import a_session
from tests.costing.stories import use_rates
from tests.pictures import encoded, left_red_right_blue

pytestmark = pytest.mark.browser

NAME, PHRASE = "wren", "eleven-canvases-by-noon"
TITLES = ["Neap", "Spring", "Slack", "Ebb", "Flood", "Bore"]
PRICES = ["45", "45", "48", "48", "52", "52"]
# Seconds for a tap with its looking, for a character on glass, and for a photo from camera to page: from memory.
A_TAP, A_CHARACTER, A_PHOTO, MOST_SECONDS = 1.5, 0.5, 9, 180


class Counting(Visitor):
    """Somebody whose taps and characters are counted."""

    taps, characters = 0, 0

    def press(self, name: str, within: object = None) -> None:
        self.taps += 1
        super().press(name)


@pytest.fixture
def session(transactional_db: None) -> Session:
    add_person(User(username=NAME, role=Role.OWNER), password=PHRASE, submission=None)
    use_rates()
    return a_session()


def test_six_pours_are_titled_photographed_priced_and_offered_on_one_page_in_under_three_minutes(
    visit: Callable[[Screen], BrowserContext], session: Session, tmp_path: Path
) -> None:
    photo = tmp_path / "canvas.jpg"
    photo.write_bytes(encoded(left_red_right_blue(1200, 1200)).getvalue())
    she = Counting(visit(PHONE).new_page(), PHONE)
    she.sign_in(NAME, PHRASE)
    she.taps = 0
    she.open(f"/sessions/{session.pk}/")
    she.follow("Its pieces")
    she.taps += 1
    expect(she.page.get_by_label("Title")).to_have_count(6)
    assert measure(she.page)["wider"] <= 0
    for pour, title, price in zip(session.pours.order_by("number"), TITLES, PRICES, strict=True):
        row = she.page.get_by_role("group").filter(has_text=pour.label).first
        row.get_by_label("Title").fill(title)
        row.get_by_label("Price (GBP)").fill(price)
        row.get_by_label("New photo").set_input_files(photo)
        she.taps += 2
        she.characters += len(title) + len(price)
    she.page.get_by_label("Finished and for sale").tap()
    she.taps += 1
    she.press("Save the pieces")
    she.sees("6 pieces saved")
    pieces = Piece.objects.order_by("pk")
    assert [(piece.title, piece.price, piece.state) for piece in pieces] == [
        (title, int(price) * 1_000_000, State.FOR_SALE) for title, price in zip(TITLES, PRICES, strict=True)
    ]
    assert all(piece.photo for piece in pieces)
    seconds = she.taps * A_TAP + she.characters * A_CHARACTER + len(TITLES) * A_PHOTO
    assert seconds < MOST_SECONDS, f"{she.taps} taps, {she.characters} characters: {seconds:.0f} s"
    assert check().is_clean
