"""The photo of a piece: put up, served behind the login, taken down."""

from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from PIL import Image
from pytest_django import Settings

from costing.pieces.models import Piece
from studio.accounts.models import User
from tests.costing.pages import as_user, page_of, text_of
from tests.costing.stories import a_piece
from tests.two_tabs import Tab

pytestmark = pytest.mark.django_db


@pytest.fixture
def signed(owner: User) -> Client:
    return as_user(owner)


def picture(width: int = 60, height: int = 40) -> SimpleUploadedFile:
    out = BytesIO()
    Image.new("RGB", (width, height), (20, 90, 110)).save(out, "PNG")
    return SimpleUploadedFile("evil.svg", out.getvalue(), "image/svg+xml")


# The photo


@pytest.fixture
def photos(settings: Settings, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path


@pytest.mark.usefixtures("photos")
def test_a_photo_is_put_up_served_to_those_signed_in_and_taken_down(signed: Client) -> None:
    piece = a_piece()
    assert signed.get(page_of(piece, "piece-photo")).status_code == 404
    signed.post(page_of(piece, "piece-photo-change"), {"photo-photo": picture()})
    for name in ("piece-photo", "piece-thumbnail"):
        response: Any = signed.get(page_of(piece, name))
        assert response["Content-Type"] == "image/jpeg"
        assert response["X-Content-Type-Options"] == "nosniff"
        assert response["Cache-Control"] == "private, max-age=86400"
        assert response["Content-Disposition"] == f'inline; filename="{piece.label}.jpg"'
        assert Image.open(BytesIO(response.getvalue())).format == "JPEG"
        assert Client().get(page_of(piece, name))["Location"].startswith(reverse("login"))
    Tab(signed, page_of(piece), page_of(piece, "piece-photo-remove")).send()
    assert signed.get(page_of(piece, "piece-photo")).status_code == 404


@pytest.mark.usefixtures("photos")
def test_no_address_of_the_stored_file_is_served_or_shown(signed: Client) -> None:
    piece = a_piece()
    signed.post(page_of(piece, "piece-photo-change"), {"photo-photo": picture()})
    piece.refresh_from_db()
    assert signed.get(f"/photos/{piece.photo.name}").status_code == 404
    assert f"/photos/{piece.photo.name}" not in signed.get(page_of(piece)).content.decode()


@pytest.mark.usefixtures("photos")
def test_a_file_that_is_no_photo_is_refused_in_its_place(signed: Client) -> None:
    piece = a_piece()
    response = signed.post(
        page_of(piece, "piece-photo-change"),
        {"photo-photo": SimpleUploadedFile("a.jpg", b"<svg/>", "image/jpeg")},
    )
    assert response.status_code == 422
    assert "JPEG, PNG or WebP" in text_of(response)
    assert signed.post(page_of(piece, "piece-photo-change")).status_code == 422
    assert not Piece.objects.get().photo


@pytest.mark.usefixtures("photos")
def test_a_photo_that_has_gone_from_the_disk_is_simply_not_there(signed: Client) -> None:
    piece = a_piece()
    Piece.objects.update(photo="pieces/gone.jpg", thumbnail="thumbnails/gone.jpg")
    assert signed.get(page_of(piece, "piece-photo")).status_code == 404
    assert signed.get(page_of(piece)).status_code == 200
