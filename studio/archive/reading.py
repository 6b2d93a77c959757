"""Reads an archive that anybody may have sent: every name, size and hash is checked before a row is believed.

Limits count what really comes out of the file while it is read; what its headers and manifest say is never trusted.
"""

import hashlib
import json
import re
import stat
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import IO, Any

from studio.archive.errors import ArchiveError
from studio.errors import DAMAGED_ZIP
from studio.translation import _

FORMAT_NAME, FORMAT = "meniscus", 1
MANIFEST, README = "manifest.json", "README.md"
BLOCK = 64 * 1024
LARGEST_MANIFEST = 64 * 1024 * 1024
LARGEST_PHOTO = 32 * 1024 * 1024
LONGEST_LINE = 8 * 1024 * 1024
# Tables of much the same rows shrink to about a thirtieth; a file made to fill the disk shrinks to a thousandth.
MOST_GROWTH, ALWAYS_ALLOWED = 100, 64 * 1024 * 1024
NAME = re.compile(r"README\.md|data/\w+\.jsonl|csv/\w+\.csv|photos(/[\w][\w .()+-]*)+")


@dataclass(frozen=True, slots=True)
class OpenArchive:
    """An archive whose names, sizes and hashes hold."""

    zip: zipfile.ZipFile
    manifest: dict[str, Any]

    def rows(self, table: str) -> Iterator[tuple[int, dict[str, Any]]]:
        """The rows of a table with the numbers of their lines. Raises ArchiveError for a line that is no row."""
        name = f"data/{table}.jsonl"
        with self.zip.open(name) as member:
            number = 0
            while line := member.readline(LONGEST_LINE + 1):
                number += 1
                yield number, _row(line, name, number)

    @property
    def photos(self) -> list[str]:
        """The names of the photos, as rows name them."""
        names = (name for name in self.manifest["files"] if name.startswith("photos/"))
        return [name.removeprefix("photos/") for name in names]

    def photo(self, name: str) -> Iterator[bytes]:
        with self.zip.open(f"photos/{name}") as member:
            while block := member.read(BLOCK):
                yield block


@contextmanager
def opened_archive(path: Path) -> Iterator[OpenArchive]:
    """Open an archive for reading and check all of it. Raises ArchiveError for anything but a whole, known one."""
    try:
        with zipfile.ZipFile(path) as archive:
            manifest = _manifest(archive)
            _refuse_damage(archive, manifest["files"], path.stat().st_size * MOST_GROWTH + ALWAYS_ALLOWED)
            yield OpenArchive(archive, manifest)
    except OSError as problem:
        raise ArchiveError(
            _("{path} cannot be read: {problem}.", path=path, problem=problem.strerror or problem)
        ) from problem
    except DAMAGED_ZIP as problem:
        raise ArchiveError(_("This file is damaged or is not a Meniscus archive.")) from problem


def _manifest(archive: zipfile.ZipFile) -> dict[str, Any]:
    names = [entry.filename for entry in archive.infolist()]
    if names.count(MANIFEST) != 1:
        raise ArchiveError(_("This file is not a Meniscus archive: it has no manifest."))
    with archive.open(MANIFEST) as member:
        text = member.read(LARGEST_MANIFEST + 1)
    try:
        if len(text) > LARGEST_MANIFEST:
            raise ValueError
        document = json.loads(text)
        _refuse_other_format(document["archive"], document["format"])
        _refuse_malformed(document)
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as problem:
        raise ArchiveError(_("This archive is damaged: its manifest cannot be read.")) from problem
    for entry in archive.infolist():
        _refuse_unsafe(entry)
    if sorted(names) != sorted([*document["files"], MANIFEST]):
        raise ArchiveError(_("This archive does not contain exactly the files that its manifest lists."))
    return dict(document)


def _refuse_other_format(name: object, number: object) -> None:
    if (name, number) != (FORMAT_NAME, FORMAT) or type(number) is not int:
        raise ArchiveError(
            _(
                "This archive has format {found}, but this version of Meniscus reads format {known}. "
                "Import it with the version that made it.",
                found=f"{name} {number}"[:40],
                known=f"{FORMAT_NAME} {FORMAT}",
            )
        )


def _refuse_malformed(document: dict[str, Any]) -> None:
    """Raises ValueError, KeyError or TypeError unless every part has its shape."""
    shapes: dict[str, Callable[[Any], bool]] = {
        "tables": lambda each: isinstance(each["rows"], int) and isinstance(each["columns"], list),
        "files": lambda each: isinstance(each["size"], int) and isinstance(each["sha256"], str),
    }
    for part, fits in shapes.items():
        if not all(fits(each) for each in document[part].values()):
            raise ValueError(part)
    if not isinstance(document["totals"], dict):
        raise TypeError("totals")
    if not all(isinstance(name, str) for name in document["migrations"]):
        raise TypeError("migrations")
    datetime.fromisoformat(document["made_at"])


def _refuse_unsafe(entry: zipfile.ZipInfo) -> None:
    # fullmatch on a list of what is allowed: "..", absolute, drive and backslash names all fail it.
    name = entry.filename
    if (name != MANIFEST and not NAME.fullmatch(name)) or stat.S_ISLNK(entry.external_attr >> 16):
        raise ArchiveError(
            _("{name} is not an allowed file in an archive. Nothing was imported.", name=repr(name)[:200])
        )


def _refuse_damage(archive: zipfile.ZipFile, files: dict[str, Any], budget: int) -> None:
    """Read every file once, against its SHA-256 and against what may come out of an archive of this size."""
    for name, stated in files.items():
        digest, size = hashlib.sha256(), 0
        largest = min(budget, LARGEST_PHOTO) if name.startswith("photos/") else budget
        with archive.open(name) as member:
            while block := _block(member):
                size += len(block)
                if size > largest:
                    raise ArchiveError(
                        _(
                            "{name} in this archive is far larger than it can be. Nothing was imported. "
                            "Export the archive again.",
                            name=name,
                        )
                    )
                digest.update(block)
        budget -= size
        if (size, digest.hexdigest()) != (stated["size"], stated["sha256"]):
            raise ArchiveError(_("This archive is damaged: {name} does not match its manifest.", name=name))


def _block(member: IO[bytes]) -> bytes:
    return member.read(BLOCK)


def _row(line: bytes, name: str, number: int) -> dict[str, Any]:
    try:
        if len(line) > LONGEST_LINE:
            raise ValueError
        row = json.loads(line)
        if not isinstance(row, dict):
            raise TypeError
        if b"\\u" in line:
            # Half of a surrogate pair is no letter, and no database takes it.
            json.dumps(row, ensure_ascii=False).encode()
    except (ValueError, TypeError, RecursionError):
        raise ArchiveError(
            _("Line {number} of {name} cannot be read. Export the archive again.", number=number, name=name)
        ) from None
    return row
