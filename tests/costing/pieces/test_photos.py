"""The photo of a piece: what is kept of it, under what name, and when the one before goes."""

from io import BytesIO
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db.models.fields.files import FieldFile
from PIL import Image
from pytest_django import DjangoCaptureOnCommitCallbacks, Settings

from costing.pieces.actions.photos import remove_photo, store_photo
from costing.pieces.models import Piece
from studio.errors import PhotoError
from studio.photos import LISTED_SIDE, PHOTO_SIDE, THUMBNAIL_SIDE, listed_beside
from tests.costing.stories import a_piece
from tests.making import make_submission
from tests.pictures import GPS, RED, encoded, left_red_right_blue, looks_like


@pytest.fixture
def piece(db: None, settings: Settings, tmp_path: Path) -> Piece:
    settings.MEDIA_ROOT = tmp_path
    return a_piece()


def name_of(field: FieldFile) -> str:
    return field.name or ""


def stored(field: FieldFile) -> Image.Image:
    with field.open("rb") as file:
        return Image.open(BytesIO(file.read()))


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_it_stores_a_photo_and_a_thumbnail_as_jpeg(piece: Piece, kind: str) -> None:
    store_photo(
        piece=piece, upload=encoded(left_red_right_blue(3200, 1600), kind), submission=make_submission()
    )
    photo, thumbnail = stored(piece.photo), stored(piece.thumbnail)
    assert (photo.format, photo.size) == ("JPEG", (PHOTO_SIDE, PHOTO_SIDE // 2))
    assert (thumbnail.format, thumbnail.size) == ("JPEG", (THUMBNAIL_SIDE, THUMBNAIL_SIDE // 2))
    assert looks_like(photo.getpixel((100, 100)), RED)


def test_a_small_photo_is_not_blown_up(piece: Piece) -> None:
    store_photo(piece=piece, upload=encoded(left_red_right_blue(80, 40)), submission=make_submission())
    assert stored(piece.photo).size == (80, 40)


def test_where_it_was_taken_and_every_other_remark_are_dropped(piece: Piece) -> None:
    exif = Image.Exif()
    exif[GPS] = {1: "N", 2: (54.0, 1.0, 2.0), 3: "W", 4: (1.0, 2.0, 3.0)}
    exif[0x010E] = "The harbour master's garden"
    remarked = encoded(
        left_red_right_blue(), exif=exif, comment=b"The harbour master's garden", dpi=(300, 300)
    )
    assert b"harbour master" in remarked.getvalue()
    assert dict(Image.open(remarked).getexif().get_ifd(GPS))
    remarked.seek(0)
    store_photo(piece=piece, upload=remarked, submission=make_submission())
    for field in (piece.photo, piece.thumbnail):
        kept = stored(field)
        assert not dict(kept.getexif())
        assert set(kept.info) <= {
            "jfif",
            "jfif_version",
            "jfif_unit",
            "jfif_density",
            "progressive",
            "progression",
        }
        with field.open("rb") as file:
            content = file.read()
        assert b"harbour master" not in content
        assert b"Exif" not in content


def test_text_and_script_are_refused(piece: Piece) -> None:
    with pytest.raises(PhotoError, match="JPEG, PNG or WebP"):
        store_photo(
            piece=piece,
            upload=SimpleUploadedFile("x.png", b"<svg onload='alert(1)'/>", "image/png"),
            submission=make_submission(),
        )
    assert not piece.photo


def test_names_are_random_and_say_nothing(piece: Piece) -> None:
    store_photo(
        piece=piece,
        upload=SimpleUploadedFile("../../Harbour master.png", encoded(left_red_right_blue()).read()),
        submission=make_submission(),
    )
    name = name_of(piece.photo)
    folder, _, file = name.rpartition("/")
    assert (folder, len(file), file.removesuffix(".jpg").isalnum()) == ("pieces", 36, True)
    store_photo(piece=piece, upload=encoded(left_red_right_blue()), submission=make_submission())
    assert name_of(piece.photo) != name


def test_a_copy_as_small_as_a_price_list_prints_it_comes_and_goes_with_the_photo(
    piece: Piece, django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks
) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        store_photo(
            piece=piece, upload=encoded(left_red_right_blue(3200, 1600)), submission=make_submission()
        )
    first = listed_beside(piece.thumbnail)
    with first.open("rb") as file:
        assert Image.open(BytesIO(file.read())).size == (LISTED_SIDE, LISTED_SIDE // 2)
    with django_capture_on_commit_callbacks(execute=True):
        store_photo(piece=piece, upload=encoded(left_red_right_blue()), submission=make_submission())
    second, storage = listed_beside(piece.thumbnail), piece.thumbnail.storage
    assert (storage.exists(name_of(first)), storage.exists(name_of(second))) == (False, True)
    with django_capture_on_commit_callbacks(execute=True):
        remove_photo(piece=piece, submission=make_submission())
    assert not storage.exists(name_of(second))


def test_the_photo_before_goes_only_once_the_new_one_is_committed(
    piece: Piece, django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks
) -> None:
    store_photo(piece=piece, upload=encoded(left_red_right_blue()), submission=make_submission())
    old, storage = name_of(piece.photo), piece.photo.storage
    with django_capture_on_commit_callbacks(execute=True):
        store_photo(piece=piece, upload=encoded(left_red_right_blue()), submission=make_submission())
        assert storage.exists(old)
    assert not storage.exists(old)
    assert storage.exists(name_of(piece.photo))


def test_a_photo_can_be_taken_away(
    piece: Piece, django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks
) -> None:
    store_photo(piece=piece, upload=encoded(left_red_right_blue()), submission=make_submission())
    names = [name_of(piece.photo), name_of(piece.thumbnail)]
    storage = piece.photo.storage
    with django_capture_on_commit_callbacks(execute=True):
        remove_photo(piece=piece, submission=make_submission())
    piece.refresh_from_db()
    assert not piece.photo
    assert not any(storage.exists(name) for name in names)
