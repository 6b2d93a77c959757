"""Photos: refused before they can do harm, upright, and stripped of where they were taken."""

import struct
import zlib
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db.models.fields.files import ImageFieldFile
from PIL import Image, ImageCms
from pytest_django import DjangoCaptureOnCommitCallbacks, Settings

from costing.errors import PhotoError
from costing.models import Piece
from costing.photos import LARGEST_FILE, PHOTO_SIDE, THUMBNAIL_SIDE, read_picture, remove_photo, store_photo
from tests.costing.stories import a_piece

RED, BLUE = (200, 30, 40), (20, 40, 190)
ORIENTATION, GPS = 0x0112, 0x8825


def encoded(picture: Image.Image, kind: str = "JPEG", **facts: Any) -> BytesIO:
    out = BytesIO()
    picture.save(out, kind, **facts)
    out.seek(0)
    return out


def left_red_right_blue(width: int = 80, height: int = 40) -> Image.Image:
    picture = Image.new("RGB", (width, height), BLUE)
    picture.paste(RED, (0, 0, width // 2, height))
    return picture


def looks_like(pixel: object, colour: tuple[int, int, int], within: int = 12) -> bool:
    assert isinstance(pixel, tuple)
    return all(abs(a - b) <= within for a, b in zip(pixel, colour, strict=True))


def png_claiming(width: int, height: int) -> BytesIO:
    """A PNG of a few dozen bytes whose header claims any size: signature, IHDR, a scrap of data (PNG, ISO 15948)."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    scrap = chunk(b"IDAT", zlib.compress(b"\0"))
    return BytesIO(b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + scrap + chunk(b"IEND", b""))


@pytest.fixture
def piece(db: None, settings: Settings, tmp_path: Path) -> Piece:
    settings.MEDIA_ROOT = tmp_path
    return a_piece()


def name_of(field: ImageFieldFile) -> str:
    return field.name or ""


def stored(field: ImageFieldFile) -> Image.Image:
    with field.open("rb") as file:
        return Image.open(BytesIO(file.read()))


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_it_stores_a_photo_and_a_thumbnail_as_jpeg(piece: Piece, kind: str) -> None:
    store_photo(piece=piece, upload=encoded(left_red_right_blue(3200, 1600), kind))
    photo, thumbnail = stored(piece.photo), stored(piece.thumbnail)
    assert (photo.format, photo.size) == ("JPEG", (PHOTO_SIDE, PHOTO_SIDE // 2))
    assert (thumbnail.format, thumbnail.size) == ("JPEG", (THUMBNAIL_SIDE, THUMBNAIL_SIDE // 2))
    assert looks_like(photo.getpixel((100, 100)), RED)


def test_a_small_photo_is_not_blown_up(piece: Piece) -> None:
    store_photo(piece=piece, upload=encoded(left_red_right_blue(80, 40)))
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
    store_photo(piece=piece, upload=remarked)
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


def test_a_photo_taken_on_its_side_stands_upright() -> None:
    """Orientation 6: the first row is the right-hand side, so it is turned a quarter clockwise (Exif 2.3, tag 274)."""
    exif = Image.Exif()
    exif[ORIENTATION] = 6
    upright = read_picture(encoded(left_red_right_blue(80, 40), exif=exif))
    assert upright.size == (40, 80)
    assert looks_like(upright.getpixel((20, 10)), RED)
    assert looks_like(upright.getpixel((20, 70)), BLUE)


def test_see_through_parts_become_white_paper() -> None:
    clear = Image.new("RGBA", (20, 20), (0, 0, 0, 0))
    assert read_picture(encoded(clear, "PNG")).getpixel((5, 5)) == (255, 255, 255)


@pytest.mark.parametrize("mode", ["1", "L", "P", "LA", "RGB", "RGBA", "I;16"])
def test_every_kind_of_png_is_read(mode: str) -> None:
    assert read_picture(encoded(Image.new(mode, (20, 20)), "PNG")).mode == "RGB"


def test_a_photo_in_printing_inks_is_read() -> None:
    assert read_picture(encoded(Image.new("CMYK", (20, 20)), "JPEG")).getpixel((5, 5)) == (255, 255, 255)


def test_colours_are_brought_to_what_a_page_shows() -> None:
    """A photo in another colour space is converted by its profile before the profile is dropped."""
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB"))
    unfit = read_picture(encoded(left_red_right_blue(), icc_profile=profile.tobytes()))
    assert looks_like(unfit.getpixel((10, 10)), RED)  # a profile that does not fit leaves the colours alone
    standard = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB"))
    fit = read_picture(encoded(left_red_right_blue(), icc_profile=standard.tobytes()))
    assert looks_like(fit.getpixel((10, 10)), RED)
    assert not fit.info


@pytest.mark.parametrize(
    ("width", "height"), [(6_400, 6_400), (20_000, 20_000), (60_000, 60_000), (2**31 - 1, 2**31 - 1)]
)
def test_a_few_bytes_that_claim_a_vast_picture_are_refused_unopened(width: int, height: int) -> None:
    bomb = png_claiming(width, height)
    assert len(bomb.getvalue()) < 100
    with pytest.raises(PhotoError, match="40 million pixels"):
        read_picture(bomb)


def test_a_damaged_or_cut_off_picture_is_refused() -> None:
    whole = encoded(left_red_right_blue(400, 400), "PNG").getvalue()
    for content in (b"", whole[: len(whole) // 2], png_claiming(50, 50).getvalue()):
        with pytest.raises(PhotoError, match="cannot be read as a photo"):
            read_picture(BytesIO(content))


@pytest.mark.parametrize("kind", ["GIF", "BMP", "TIFF", "ICO", "PPM"])
def test_other_pictures_are_refused_whatever_they_call_themselves(kind: str) -> None:
    disguised = SimpleUploadedFile(
        "lantern.jpg", encoded(left_red_right_blue(), kind).getvalue(), "image/jpeg"
    )
    with pytest.raises(PhotoError, match="JPEG, PNG or WebP"):
        read_picture(disguised)


def test_text_and_script_are_refused(piece: Piece) -> None:
    with pytest.raises(PhotoError, match="JPEG, PNG or WebP"):
        store_photo(piece=piece, upload=SimpleUploadedFile("x.png", b"<svg onload='alert(1)'/>", "image/png"))
    assert not piece.photo


def test_a_file_over_ten_megabytes_is_refused() -> None:
    with pytest.raises(PhotoError, match="larger than 10 MB"):
        read_picture(BytesIO(b"\xff\xd8\xff" + b"\0" * LARGEST_FILE))


def test_names_are_random_and_say_nothing(piece: Piece) -> None:
    store_photo(
        piece=piece,
        upload=SimpleUploadedFile("../../Harbour master.png", encoded(left_red_right_blue()).read()),
    )
    name = name_of(piece.photo)
    folder, _, file = name.rpartition("/")
    assert (folder, len(file), file.removesuffix(".jpg").isalnum()) == ("pieces", 36, True)
    store_photo(piece=piece, upload=encoded(left_red_right_blue()))
    assert name_of(piece.photo) != name


def test_the_photo_before_goes_only_once_the_new_one_is_committed(
    piece: Piece, django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks
) -> None:
    store_photo(piece=piece, upload=encoded(left_red_right_blue()))
    old, storage = name_of(piece.photo), piece.photo.storage
    with django_capture_on_commit_callbacks(execute=True):
        store_photo(piece=piece, upload=encoded(left_red_right_blue()))
        assert storage.exists(old)
    assert not storage.exists(old)
    assert storage.exists(name_of(piece.photo))


def test_a_photo_can_be_taken_away(
    piece: Piece, django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks
) -> None:
    store_photo(piece=piece, upload=encoded(left_red_right_blue()))
    names = [name_of(piece.photo), name_of(piece.thumbnail)]
    storage = piece.photo.storage
    with django_capture_on_commit_callbacks(execute=True):
        remove_photo(piece=piece)
    piece.refresh_from_db()
    assert not piece.photo
    assert not any(storage.exists(name) for name in names)
