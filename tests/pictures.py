"""Pictures to upload: made here, in colours that can be told apart again."""

import struct
import zlib
from io import BytesIO
from typing import Any

from PIL import Image

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
