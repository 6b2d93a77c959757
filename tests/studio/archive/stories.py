"""An archive of a small studio, and what can be done to it before it is read again."""

import hashlib
import json
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from django.conf import settings
from django.db import transaction

from costing.pieces.models import Piece
from studio.archive.writing import export_archive
from tests.days import AT
from tests.pictures import encoded, left_red_right_blue
from tests.small_studio import small_studio

PHOTO, PICTURE = "pieces/0a1b2c.jpg", encoded(left_red_right_blue(640, 480)).getvalue()
Files = dict[str, bytes]


@contextmanager
def gone_afterwards() -> Iterator[None]:
    """What is recorded inside is rolled back: an empty studio again, in the same test."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def photographed() -> Piece:
    """A small studio in which one piece has a photo."""
    small_studio()
    piece = Piece.objects.order_by("pk")[0]
    file = Path(settings.MEDIA_ROOT) / PHOTO
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_bytes(PICTURE)
    piece.photo = piece.thumbnail = PHOTO
    piece.save()
    return piece


def archived(folder: Path) -> Path:
    """The archive of a small studio that is not there any more; its photos are gone too."""
    file = folder / "archive.zip"
    file.write_bytes(_archive())
    return file


@cache
def _archive() -> bytes:
    """Made once for all tests, which never change it."""
    with gone_afterwards(), TemporaryDirectory() as folder:
        photographed()
        export_archive(Path(folder) / "archive.zip", at=AT)
        (Path(settings.MEDIA_ROOT) / PHOTO).unlink()
        return (Path(folder) / "archive.zip").read_bytes()


def contents(file: Path) -> Files:
    with zipfile.ZipFile(file) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def packed(file: Path, files: Files) -> Path:
    """Files as an archive again, as they are."""
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return file


def resealed(files: Files, change: Callable[[dict[str, Any]], None] = lambda manifest: None) -> Files:
    """The same with a manifest that says of every file what it is now: a careful forger's."""
    manifest = json.loads(files["manifest.json"])
    manifest["files"] = {
        name: {"size": len(content), "sha256": hashlib.sha256(content).hexdigest()}
        for name, content in files.items()
        if name != "manifest.json"
    }
    change(manifest)
    return {**files, "manifest.json": json.dumps(manifest).encode()}


def with_rows(files: Files, table: str, change: Callable[[list[dict[str, Any]]], object]) -> Files:
    """The rows of a table changed, and the manifest with them."""
    name = f"data/{table}.jsonl"
    rows = [json.loads(line) for line in files[name].splitlines()]
    change(rows)
    changed = {**files, name: "".join(json.dumps(row) + "\n" for row in rows).encode()}
    return resealed(changed, lambda manifest: manifest["tables"][table].update(rows=len(rows)))
