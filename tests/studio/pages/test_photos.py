"""Photos: refused before they can do harm, upright, and stripped of where they were taken."""

from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image, ImageCms

from studio.errors import PhotoError
from studio.photos import LARGEST_FILE, read_picture
from tests.pictures import BLUE, ORIENTATION, RED, encoded, left_red_right_blue, looks_like, png_claiming


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


def test_a_file_over_ten_megabytes_is_refused() -> None:
    with pytest.raises(PhotoError, match="larger than 10 MB"):
        read_picture(BytesIO(b"\xff\xd8\xff" + b"\0" * LARGEST_FILE))
