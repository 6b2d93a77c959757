"""The backup file: a sealed zip. Plain files in, plain files out; no database here.

Members: one database, the photos, and `manifest.json`, which names every other member with its size and
SHA-256. The last 128 bytes (the zip's comment) are the SHA-256 of all bytes before them, so damage anywhere,
even between members, is found before anything is unpacked; and their HMAC-SHA-256 (RFC 2104) under the studio's
own key, so that nobody without the key can make a backup that is taken for one of the studio's.
"""

import hashlib
import hmac
import json
import os
import re
import shutil
import stat
import sys
import zipfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import IO, Any

from studio.errors import DAMAGED_ZIP, MeniscusError
from studio.translation import _

FORMAT = 1
MANIFEST = "manifest.json"
DIGITS = 64  # hexadecimal ones of SHA-256
SEAL = 2 * DIGITS
_BLOCK = 1024 * 1024
# Whatever a manifest declares, nothing larger is unpacked, nor more than the disk has room for.
_LARGEST_MANIFEST = 64 * 1024 * 1024
_LARGEST_PHOTO = 20 * 1024 * 1024
_LARGEST_DATABASE = 64 * 1024**3
_MOST_MEMBERS = 500_000
_NAME = re.compile(r"database\.(sqlite3|dump)|photos(/[\w][\w .()+-]*)+")


class BackupError(MeniscusError):
    """Raised when a backup cannot be made, read or restored; the text says why and what to do."""


@dataclass(frozen=True, slots=True)
class Member:
    """One file inside a backup: bytes and SHA-256."""

    size: int
    sha256: str


@dataclass(frozen=True, slots=True)
class Manifest:
    """What a backup says about itself. `totals` are the books' own figures, compared again after a restore."""

    format: int
    made_at: str
    vendor: str
    migrations: list[str]
    totals: dict[str, Any]
    members: dict[str, Member]


def pack(
    path: Path,
    *,
    made_at: str,
    vendor: str,
    migrations: list[str],
    totals: dict[str, Any],
    files: Mapping[str, Path],
    key: bytes,
) -> Manifest:
    """Write a sealed backup to a new file that only its owner may read. Raises BackupError for an unfit name."""
    for name in files:
        _refuse_unsafe(name)
    with os.fdopen(os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600), "w+b") as file:
        with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
            members = {name: _add(archive, name, source) for name, source in sorted(files.items())}
            manifest = Manifest(FORMAT, made_at, vendor, migrations, totals, members)
            archive.writestr(MANIFEST, json.dumps(asdict(manifest), indent=1, sort_keys=True))
            archive.comment = b"0" * SEAL
        length = file.seek(0, os.SEEK_END) - SEAL
        digest, seal = _digests(file, length, key)
        file.seek(length)
        file.write(f"{digest}{seal}".encode("ascii"))
        file.flush()
        os.fsync(file.fileno())
    return manifest


def read_manifest(path: Path, *, key: bytes | None) -> Manifest:
    """Read a backup's manifest once its seal holds. Raises BackupError for anything but a whole, known backup.

    Without a key, whoever asks vouches for where the file comes from.
    """
    with _opened(path, key) as archive:
        return _manifest(archive)


def unpack(path: Path, folder: Path, *, key: bytes | None) -> Manifest:
    """Unpack a backup into an empty folder, every byte verified. Raises BackupError; then use nothing of it."""
    with _opened(path, key) as archive:
        manifest = _manifest(archive)
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        _refuse_too_much(manifest.members, folder)
        for name, member in manifest.members.items():
            target = folder / name
            target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            if _extract(archive, name, target, limit=member.size) != member:
                raise BackupError(_("This backup is damaged: {name} does not match its manifest.", name=name))
    return manifest


def sha256_of(path: Path) -> str:
    """SHA-256 of a whole file."""
    with path.open("rb") as file:
        return _digests(file, path.stat().st_size, b"")[0]


@contextmanager
def _opened(path: Path, key: bytes | None) -> Iterator[zipfile.ZipFile]:
    """Open a backup for reading, its seal first; what the zip reader cannot take becomes a BackupError."""
    try:
        with path.open("rb") as file:
            _refuse_broken_seal(file, path.stat().st_size - SEAL, key)
        with zipfile.ZipFile(path) as archive:
            yield archive
    except OSError as problem:
        raise BackupError(
            _(
                "{path} cannot be read or unpacked: {problem}. "
                "Check the file and the free space, or choose another file.",
                path=path,
                problem=problem.strerror,
            )
        ) from problem
    except DAMAGED_ZIP as problem:
        raise BackupError(_("This file is damaged or is not a Meniscus backup.")) from problem


def _add(archive: zipfile.ZipFile, name: str, source: Path) -> Member:
    entry = zipfile.ZipInfo(name)
    entry.external_attr = 0o600 << 16
    if not name.startswith("photos/"):  # photos are compressed already
        entry.compress_type = zipfile.ZIP_DEFLATED
    with source.open("rb") as file, archive.open(entry, "w", force_zip64=True) as member:
        return _copied(file, member)


def _extract(archive: zipfile.ZipFile, name: str, target: Path, *, limit: int) -> Member:
    with (
        archive.open(name) as member,
        os.fdopen(os.open(target, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file,
    ):
        copied = _copied(member, file, limit=limit)
        file.flush()
        os.fsync(file.fileno())
    return copied


def _copied(source: IO[bytes], target: IO[bytes], *, limit: int = sys.maxsize) -> Member:
    digest, size = hashlib.sha256(), 0
    while block := source.read(_BLOCK):
        size += len(block)
        if size > limit:  # a member that unpacks to more than it admits never fills the disk
            break
        digest.update(block)
        target.write(block)
    return Member(size, digest.hexdigest())


def _manifest(archive: zipfile.ZipFile) -> Manifest:
    names = [entry.filename for entry in archive.infolist()]
    if names.count(MANIFEST) != 1 or archive.getinfo(MANIFEST).file_size > _LARGEST_MANIFEST:
        raise BackupError(_("This file is not a Meniscus backup: it has no manifest."))
    try:
        document = json.loads(archive.read(MANIFEST))
        _refuse_other_format(document["format"])
        members = {str(name): Member(**facts) for name, facts in document["members"].items()}
        manifest = Manifest(**{**document, "members": members})
        if not isinstance(manifest.totals, dict):
            raise TypeError("the totals are no figures by name")
        if not all(type(each.size) is int for each in members.values()):
            raise TypeError("a size is no number")
    except (ValueError, KeyError, TypeError, AttributeError) as problem:
        raise BackupError(_("This backup is damaged: its manifest cannot be read.")) from problem
    for entry in archive.infolist():
        if entry.filename != MANIFEST:
            _refuse_unsafe(entry.filename)
        if stat.S_ISLNK(entry.external_attr >> 16):
            raise BackupError(
                _(
                    "This backup contains a link, {name}; backups contain plain files only. "
                    "Choose another backup file.",
                    name=repr(entry.filename),
                )
            )
    if sorted(names) != sorted([*members, MANIFEST]):
        raise BackupError(_("This backup does not contain exactly the files its manifest lists."))
    return manifest


def _refuse_other_format(number: object) -> None:
    if number != FORMAT:
        raise BackupError(
            _(
                "This backup has format {found}, but this version of Meniscus reads format {known}. "
                "Restore it with the version that made it, or a newer one.",
                found=number,
                known=FORMAT,
            )
        )


def _refuse_unsafe(name: str) -> None:
    # fullmatch on a list of what is allowed: "..", absolute, drive and backslash names all fail it.
    if not _NAME.fullmatch(name):
        raise BackupError(
            _(
                "{name} is not an allowed name in a backup. Rename the file, or ask the sender.",
                name=repr(name),
            )
        )


def _refuse_too_much(members: Mapping[str, Member], folder: Path) -> None:
    too_large = [
        name
        for name, member in members.items()
        if member.size > (_LARGEST_PHOTO if name.startswith("photos/") else _LARGEST_DATABASE)
    ]
    total = sum(member.size for member in members.values())
    if too_large or len(members) > _MOST_MEMBERS or any(each.size < 0 for each in members.values()):
        raise BackupError(_("This backup claims to hold more than any backup does. Nothing was unpacked."))
    if total > shutil.disk_usage(folder).free:
        raise BackupError(
            _("There is not enough room on the disk to unpack this backup: {size} bytes.", size=total)
        )


def _refuse_broken_seal(file: IO[bytes], length: int, key: bytes | None) -> None:
    digest, own = _digests(file, length, key or b"") if length > 0 else ("", "")
    sealed = file.read(SEAL).decode("ascii", "replace")
    if not digest or sealed[:DIGITS] != digest:
        raise BackupError(
            _("This file is damaged, incomplete or not a Meniscus backup. Choose another backup file.")
        )
    if key is not None and not hmac.compare_digest(sealed[DIGITS:].encode(), own.encode()):
        raise BackupError(
            _(
                "This backup is whole, but was not sealed with this studio's backup key: it comes from another studio, "
                "was changed on purpose, or the key was lost. Put the key back (see “Backup key” in OPERATIONS.md). "
                "If you are sure where the file comes from, restore it with --any-key."
            )
        )


def _digests(file: IO[bytes], length: int, key: bytes) -> tuple[str, str]:
    """SHA-256 and HMAC of the first `length` bytes; leaves the file standing right after them."""
    digest, seal = hashlib.sha256(), hmac.new(key, digestmod=hashlib.sha256)
    file.seek(0)
    while length > 0 and (block := file.read(min(_BLOCK, length))):
        digest.update(block)
        seal.update(block)
        length -= len(block)
    return digest.hexdigest(), seal.hexdigest()
