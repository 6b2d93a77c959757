"""A photo that was taken at the bench becomes the piece's first one, when it is touched."""

from io import BytesIO
from pathlib import Path

import pytest
from django.core.files.storage import default_storage
from django.test import Client
from django.urls import reverse
from PIL import Image
from pytest_django import Settings

from costing.pieces.models import Piece
from costing.pieces.queries import photos_of_pours
from inventory.sessions.actions.photos import add_photo, remove_photo
from inventory.sessions.models import Pour, SessionPhoto
from studio.accounts.models import User
from tests.costing.pages import as_user, page_of, text_of
from tests.costing.stories import a_piece, two_ring_pours
from tests.making import make_pour, make_submission
from tests.pictures import BLUE, RED, encoded, looks_like

pytestmark = pytest.mark.django_db
OFFER = "Choose one as the piece's photo."


@pytest.fixture(autouse=True)
def folder(settings: Settings, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def signed(owner: User) -> Client:
    return as_user(owner)


def taken(pour: Pour, *, colour: tuple[int, int, int] = RED, whole: bool = False) -> SessionPhoto:
    upload = encoded(Image.new("RGB", (60, 40), colour))
    pours = [] if whole else [pour]
    return add_photo(session=pour.session, upload=upload, pours=pours, submission=make_submission())


def test_it_is_offered_while_the_piece_has_none_and_becomes_a_photo_of_its_own(signed: Client) -> None:
    pour = make_pour()
    photo = taken(pour)
    piece = a_piece(pours=[pour])
    page = signed.get(page_of(piece))
    assert OFFER in text_of(page).replace("&#x27;", "'")
    assert reverse("inventory:session-thumbnail", args=[photo.pk]) in page.content.decode()

    signed.post(page_of(piece, "piece-photo-adopt"), {"photo": photo.pk})
    piece.refresh_from_db()
    assert OFFER not in text_of(signed.get(page_of(piece))).replace("&#x27;", "'")
    remove_photo(photo=photo, submission=make_submission())
    for name in (photo.photo.name, photo.thumbnail.name):
        default_storage.delete(name or "")
    with piece.photo.open("rb") as file:
        assert looks_like(Image.open(BytesIO(file.read())).getpixel((5, 5)), RED)


def test_photos_of_its_own_pours_come_before_those_of_the_table() -> None:
    first, second = two_ring_pours()
    whole, other = taken(first, whole=True), taken(second, colour=BLUE)
    piece = a_piece(pours=[first])
    assert photos_of_pours(piece) == [whole]
    own = taken(first, colour=(9, 99, 9))
    assert photos_of_pours(piece) == [own]
    assert other not in photos_of_pours(piece)


@pytest.mark.parametrize("sent", ["", "x", "999", "9" * 40, "\x00"])
def test_a_photo_that_is_none_changes_nothing(signed: Client, sent: str) -> None:
    piece = a_piece()
    answer = signed.post(page_of(piece, "piece-photo-adopt"), {"photo": sent}, follow=True)
    assert "Choose a photo first." in text_of(answer)


def test_a_photo_of_other_pours_a_second_one_and_one_that_is_gone_are_refused(signed: Client) -> None:
    pour = make_pour()
    piece = a_piece(pours=[pour])
    elsewhere, here = taken(make_pour()), taken(pour)

    def answer_to(photo: SessionPhoto) -> str:
        return text_of(signed.post(page_of(piece, "piece-photo-adopt"), {"photo": photo.pk}, follow=True))

    assert "That photo shows other pours." in answer_to(elsewhere)
    default_storage.delete(here.photo.name or "")
    assert "The photo file is missing." in answer_to(here)
    again = taken(pour, colour=BLUE)
    assert "Photo saved." in answer_to(again)
    assert "“Low water” already has a photo." in answer_to(again)


def test_a_reader_is_offered_none(bookkeeper: User) -> None:
    pour = make_pour()
    photo = taken(pour)
    piece = a_piece(pours=[pour])
    reader = as_user(bookkeeper)
    assert OFFER not in text_of(reader.get(page_of(piece))).replace("&#x27;", "'")
    assert reader.post(page_of(piece, "piece-photo-adopt"), {"photo": photo.pk}).status_code == 403
    assert not Piece.objects.get().photo
