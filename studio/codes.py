"""Codes on photos: the QR codes of our own labels (ISO/IEC 18004) and the barcodes of goods (GS1), read by ZXing."""

from typing import IO

from studio.photos import read_picture

# A photo of twelve million pixels tells the reader no more than this, and takes three times as long.
LONGEST_SIDE = 1600


def read_codes(upload: IO[bytes]) -> list[str]:
    """The texts of the codes that a photo shows, if any. Raises PhotoError for a file that is no photo."""
    import zxingcpp  # here, because nothing else needs it and starting up should not wait for it

    picture = read_picture(upload)
    picture.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    return [found.text for found in zxingcpp.read_barcodes(picture)]
