"""Codes on photos: our own labels and the barcodes of goods, read for a page whose browser cannot."""

from io import BytesIO

import pytest
import segno
import zxingcpp
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from studio.accounts.models import User
from studio.codes import read_codes
from studio.errors import PhotoError
from tests.inventory.browsing import as_user
from tests.pictures import encoded, left_red_right_blue, png_claiming

# GS1 General Specifications, section 7.9 (check digit): 4006381333931 is valid, from memory.
A_GTIN = "4006381333931"


def drawn(text: str, kind: str = "QRCode") -> BytesIO:
    made = zxingcpp.create_barcode(text, getattr(zxingcpp.BarcodeFormat, kind))
    return encoded(Image.fromarray(made.to_image(scale=4)).convert("RGB"), "PNG")


def test_the_barcode_of_a_good_and_the_code_of_a_label_are_read() -> None:
    assert read_codes(drawn(A_GTIN, "EAN13")) == [A_GTIN]
    label = BytesIO()
    segno.make("P0012").save(label, kind="png", scale=5)
    label.seek(0)
    assert read_codes(label) == ["P0012"]


def test_a_photo_without_a_code_shows_none_and_a_file_that_is_no_photo_is_refused() -> None:
    assert read_codes(encoded(left_red_right_blue())) == []
    with pytest.raises(PhotoError, match="cannot be read as a photo"):
        read_codes(BytesIO(b"no photo"))
    with pytest.raises(PhotoError, match="40 million pixels"):
        read_codes(png_claiming(100_000, 100_000))


@pytest.mark.django_db
def test_a_page_sends_a_photo_and_is_told_the_code_or_what_is_wrong(helper: User) -> None:
    client = as_user(helper)
    photo = SimpleUploadedFile("code.png", drawn("P0012").read())
    assert client.post("/codes/", {"photo": photo}).json() == {"codes": ["P0012"]}
    wrong = client.post("/codes/", {"photo": SimpleUploadedFile("code.png", b"no photo")})
    assert (wrong.status_code, "JPEG, PNG or WebP" in wrong.json()["detail"]) == (422, True)
    missing = client.post("/codes/", {})
    assert (missing.status_code, missing.json()["detail"]) == (422, "Send a photo of the code.")
