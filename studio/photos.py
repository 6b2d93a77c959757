"""Photos: checked before they are opened, turned upright, stripped of everything but the picture, and handed out."""

import secrets
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import IO

from django.core.files.base import ContentFile
from django.db import transaction
from django.db.models import Model
from django.db.models.fields.files import FieldFile
from django.http import FileResponse, Http404
from django.utils.translation import gettext_lazy
from PIL import Image, ImageCms, ImageOps, UnidentifiedImageError

from studio.errors import PhotoError
from studio.translation import _

FORMATS = ("JPEG", "PNG", "WEBP")
LARGEST_FILE = 10 * 1024 * 1024  # bytes
LARGEST_PICTURE = 40_000_000  # pixels
PHOTO_SIDE, THUMBNAIL_SIDE = 1600, 480  # the long side, in pixels
LISTED_SIDE, LISTED_QUALITY = 142, 80  # 18 mm at 200 dots an inch, as a price list prints it
PAPER_WHITE = (255, 255, 255)
A_DAY = 24 * 60 * 60

_UNREADABLE = gettext_lazy("This file cannot be read as a photo. Choose a JPEG, PNG or WebP picture.")
_TOO_LARGE = gettext_lazy("This file is larger than 10 MB. Save a smaller version and choose that.")
_TOO_MANY_PIXELS = gettext_lazy(
    "This picture has more than 40 million pixels. Save a smaller version and choose that."
)


@dataclass(frozen=True, slots=True)
class Developed:
    """A photo as it is kept: JPEGs under one random name. `listed` is as small as a price list prints it."""

    name: str
    photo: "ContentFile[bytes]"
    thumbnail: "ContentFile[bytes]"
    listed: "ContentFile[bytes]"


def develop(upload: IO[bytes]) -> Developed:
    """Turn an upload into what is kept. Raises PhotoError.

    The file's name and type as sent are not looked at: only its content counts.
    """
    picture = read_picture(upload)
    photo, thumbnail = _jpeg(picture, PHOTO_SIDE), _jpeg(picture, THUMBNAIL_SIDE)
    listed = _listed_jpeg(picture)
    return Developed(
        f"{secrets.token_hex(16)}.jpg", ContentFile(photo), ContentFile(thumbnail), ContentFile(listed)
    )


def listed_beside(thumbnail: FieldFile) -> FieldFile:
    """Where the smallest picture is kept: beside its thumbnail, under that one's name. It may not be there."""
    name = f"{thumbnail.name.removesuffix('.jpg')}-listed.jpg" if thumbnail.name else None
    return FieldFile(thumbnail.instance, thumbnail.field, name)


_listed: list[tuple[type[Model], str]] = []


def keep_listed(model: type[Model], column: str) -> None:
    """Say that beside each thumbnail of this column its smallest picture is kept."""
    _listed.append((model, column))


def missing_listed() -> Iterator[tuple[Path, bytes]]:
    """The smallest pictures that are not there, as an archive brings thumbnails alone; made of these."""
    for model, column in _listed:
        for row in model._base_manager.exclude(**{column: ""}).only(column).iterator():
            thumbnail: FieldFile = getattr(row, column)
            file = Path(listed_beside(thumbnail).path)
            if not file.exists():
                with suppress(PhotoError, OSError), thumbnail.open("rb") as kept:
                    yield file, _listed_jpeg(read_picture(kept))


def read_picture(upload: IO[bytes]) -> Image.Image:
    """Read an upload into an upright picture in plain RGB without metadata. Raises PhotoError.

    The size is read from the header and refused there: a few kilobytes can claim a picture that fills the memory.
    """
    content = upload.read(LARGEST_FILE + 1)
    if len(content) > LARGEST_FILE:
        raise PhotoError(str(_TOO_LARGE))
    try:
        with Image.open(BytesIO(content), formats=FORMATS) as opened:
            if opened.width * opened.height > LARGEST_PICTURE:
                raise PhotoError(str(_TOO_MANY_PIXELS))
            # a JPEG need not be decoded larger than it will be kept
            opened.draft("RGB", (2 * PHOTO_SIDE, 2 * PHOTO_SIDE))
            opened.load()
            return _plain(ImageOps.exif_transpose(opened))
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        raise PhotoError(str(_TOO_MANY_PIXELS)) from None
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, EOFError, MemoryError):
        raise PhotoError(str(_UNREADABLE)) from None


def remove_after_commit(files: Sequence[FieldFile]) -> None:
    """Delete stored files once this transaction is committed: one that is undone keeps them."""
    for file in files:
        if file:
            transaction.on_commit(lambda storage=file.storage, name=file.name: storage.delete(name))  # type: ignore[misc]


def served(file: FieldFile, *, filename: str) -> FileResponse:
    """A stored JPEG. A page asks for it by its random name, so it may be kept on the device for a day."""
    if not file:
        raise Http404(_("There is no photo here."))
    try:
        opened = file.open("rb")
    except OSError:
        raise Http404(_("The photo file is missing.")) from None
    return FileResponse(
        opened,
        content_type="image/jpeg",
        filename=filename,
        headers={"Cache-Control": f"private, max-age={A_DAY}", "X-Content-Type-Options": "nosniff"},
    )


def _plain(picture: Image.Image) -> Image.Image:
    """The picture alone: its colours brought to sRGB, see-through parts on white, nothing else carried over."""
    profile = picture.info.get("icc_profile")
    if picture.mode != "CMYK":  # a profile of printing inks must meet the inks themselves
        picture = picture.convert("RGBA" if picture.has_transparency_data else "RGB")
    picture = _in_srgb(picture, profile)
    plain = Image.new("RGB", picture.size, PAPER_WHITE)
    see_through = picture.mode == "RGBA"
    plain.paste(picture if see_through else picture.convert("RGB"), mask=picture if see_through else None)
    return plain


def _in_srgb(picture: Image.Image, profile: bytes | None) -> Image.Image:
    """Phones photograph in wider colours than a page shows; without its profile a painting would look dull."""
    if not profile:
        return picture
    mode = "RGBA" if picture.mode == "RGBA" else "RGB"
    try:
        source = ImageCms.ImageCmsProfile(BytesIO(profile))
        converted = ImageCms.profileToProfile(
            picture, source, ImageCms.createProfile("sRGB"), outputMode=mode
        )
    except (ImageCms.PyCMSError, OSError, ValueError):
        return picture  # an unreadable profile: the colours as they stand are the best there is
    return converted or picture


def _listed_jpeg(picture: Image.Image) -> bytes:
    return _jpeg(picture, LISTED_SIDE, quality=LISTED_QUALITY, progressive=False)


def _jpeg(picture: Image.Image, side: int, *, quality: int = 86, progressive: bool = True) -> bytes:
    smaller = picture.copy()
    smaller.thumbnail((side, side), Image.Resampling.LANCZOS)
    out = BytesIO()
    smaller.save(out, "JPEG", quality=quality, optimize=True, progressive=progressive)
    return out.getvalue()
