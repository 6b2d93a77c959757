"""Backups of the whole studio, books and photos: made while people work, proved before they count, restored whole."""

import os
import secrets
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from io import StringIO
from pathlib import Path
from types import ModuleType
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import DatabaseError, connection, connections, transaction

from studio.accounts import security_log as security
from studio.backups import postgresql as backup_postgresql
from studio.backups import sqlite as backup_sqlite
from studio.backups.archive import BackupError, Manifest, pack, read_manifest, sha256_of, unpack
from studio.backups.models import Backup
from studio.backups.verification import (
    applied_migrations,
    proving_commands,
    refuse_newer,
    refuse_other_totals,
    totals,
)
from studio.operations import database_guard as guard
from studio.operations.health import record_book_check
from studio.translation import _

_DATABASES: dict[str, ModuleType] = {module.VENDOR: module for module in (backup_sqlite, backup_postgresql)}
_PATTERN = "meniscus-????????T??????.???Z.zip"


def last_good_backup() -> Backup | None:
    """The newest backup that was made and proved; None when there is none yet."""
    return Backup.objects.filter(ok=True).order_by("-made_at", "-pk").first()


def backup_into(folder: Path, *, at: datetime, keep: int | None = None) -> Backup:
    """Make a backup under a name of its own in a folder, then keep only the newest `keep` there. Raises BackupError."""
    name = f"meniscus-{at.astimezone(UTC):%Y%m%dT%H%M%S.%f}"[:-3]
    made = make_backup(folder / f"{name}Z.zip", at=at)
    if keep is not None:
        for old in sorted(folder.glob(_PATTERN), reverse=True)[max(keep, 1) :]:
            old.unlink()
    return made


def make_backup(path: Path, *, at: datetime) -> Backup:
    """Make one backup at a path where no file is yet, prove it, and record how it went. Raises BackupError."""
    path = path.resolve()
    try:
        note = _make(path, at)
    except (BackupError, OSError) as problem:
        with suppress(DatabaseError):
            _record(made_at=at, path=str(path), ok=False, note=str(problem)[:1000])
        security.event("backup_failed", path=str(path))
        if isinstance(problem, BackupError):
            raise
        raise BackupError(
            _("{path}: {problem}. The backup was not kept.", path=path, problem=problem.strerror)
        ) from problem
    made = _record(
        made_at=at, path=str(path), size=path.stat().st_size, sha256=sha256_of(path), ok=True, note=note
    )
    record_book_check(ok=True, at=at, note=_("Checked in the backup {name}.", name=path.name))
    security.event("backup_made", path=str(path))
    return made


def backup_key() -> bytes:
    """The studio's own key that backups are sealed with. It lives outside the database, and is in no backup.

    Made when it is first needed, unless the environment gives one.
    """
    if settings.BACKUP_KEY:
        return str(settings.BACKUP_KEY).encode()
    file = Path(settings.DATA_DIR) / "backup.key"
    if not file.exists():
        file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        for_the_owner_alone = os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600
        with suppress(FileExistsError), os.fdopen(os.open(file, *for_the_owner_alone), "w") as made:
            made.write(secrets.token_hex(32))
    return file.read_bytes().strip()


def restore_backup(path: Path, *, at: datetime, any_key: bool = False) -> str:
    """Put a backup in place of the live books and photos; what was there is kept, and where is the answer.

    Everything is unpacked, brought up to date and checked beside the live books first. Raises BackupError; up to
    the swap that means that nothing was changed. With `any_key` it may be sealed with another key than ours.
    """
    key = None if any_key else backup_key()
    manifest = read_manifest(path, key=key)
    database = _database_for(manifest)
    refuse_newer(manifest.migrations)
    with _alone(), _staging() as staging:
        unpack(path, staging, key=key)
        copy = staging / database.MEMBER
        try:
            refuse_other_totals(database.stage(copy), manifest.totals)
            prefix = f"before-restore-{at.astimezone(UTC):%Y%m%dT%H%M%S}-"
            keep = Path(tempfile.mkdtemp(prefix=prefix, dir=_home()))
            _bring_photos(staging / "photos", keep / "photos")
            kept: str = database.swap(copy, keep)
        finally:
            database.discard(copy)
        _verify_live(manifest, kept)
        _record_restored(path, manifest, at)
    with suppress(OSError):
        keep.rmdir()  # nothing had to be kept in it
    return kept


def _make(path: Path, at: datetime) -> str:
    if path.exists():
        raise BackupError(
            _("{path} already exists. Choose another name; a backup never replaces a file.", path=path)
        )
    database = _DATABASES[connection.vendor]
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    part = path.with_name(f".{path.name}.part")
    part.unlink(missing_ok=True)
    try:
        with _staging() as staging:
            photos = _photos_set_aside(staging)
            books = database.copy(staging / database.MEMBER)
            manifest = pack(
                part,
                made_at=at.isoformat(),
                vendor=database.VENDOR,
                migrations=applied_migrations(),
                totals=books,
                key=backup_key(),
                files={database.MEMBER: staging / database.MEMBER, **photos, **_photos_set_aside(staging)},
            )
            note = _prove(part, staging, manifest, database)
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)
    seal = _(
        "The latest entry is ledger no. {number}, check figure {seal}.",
        number=books.get("postings"),
        seal=books.get("last_hash"),
    )
    return f"{note} {seal}"


def _prove(part: Path, staging: Path, manifest: Manifest, database: ModuleType) -> str:
    """Read the file back from the disk and check what comes out of it: only then does it count."""
    proof = staging / "proof"
    unpack(part, proof, key=backup_key())
    read, note = database.prove(proof / database.MEMBER)
    if read is not None:
        refuse_other_totals(read, manifest.totals)
    return str(note)


def _photos_set_aside(staging: Path) -> dict[str, Path]:
    """Hold on to every photo that is there now, by a link where the disk allows one.

    Called before and after the books are copied, so a photo replaced in between is in the backup either way.
    """
    root, held = Path(settings.MEDIA_ROOT), {}
    for photo in root.rglob("*") if root.is_dir() else []:
        place = photo.relative_to(root)
        if photo.is_symlink() or not photo.is_file() or place.name.startswith("."):
            continue
        aside = staging / "photos" / place
        aside.parent.mkdir(parents=True, exist_ok=True)
        if not aside.exists():
            try:
                os.link(photo, aside)
            except FileNotFoundError:
                continue
            except OSError:
                shutil.copyfile(photo, aside)
        held[f"photos/{place.as_posix()}"] = aside
    return held


def _bring_photos(restored: Path, keep: Path) -> None:
    """Put restored photos beside those that are there; one that differs under the same name is kept aside first.

    Photos have random names and come before the books, so a crash in between leaves only unused files.
    """
    root = Path(settings.MEDIA_ROOT)
    for photo in sorted(restored.rglob("*")) if restored.is_dir() else []:
        target, aside = (folder / photo.relative_to(restored) for folder in (root, keep))
        if photo.is_dir():
            continue
        if target.exists() and sha256_of(target) != sha256_of(photo):
            aside.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            shutil.move(target, aside)
        target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        shutil.move(photo, target)


def _database_for(manifest: Manifest) -> ModuleType:
    if manifest.vendor != connection.vendor:
        raise BackupError(
            _(
                "This is a backup of a {found} database, but DATABASE_URL points to a {wanted} database. "
                "Set it to a {found} database first.",
                found=manifest.vendor,
                wanted=connection.vendor,
            )
        )
    database = _DATABASES[connection.vendor]
    if database.MEMBER not in manifest.members:
        raise BackupError(_("This backup contains no database. Choose another backup file."))
    return database


def _verify_live(manifest: Manifest, kept: str) -> None:
    """Look once more, at the books where they now live."""
    connections.close_all()
    out = StringIO()
    try:
        for command in proving_commands():
            call_command(command, stdout=out)
        with connection.cursor() as cursor:
            refuse_other_totals(totals(cursor), manifest.totals)
    except (CommandError, SystemExit, BackupError, DatabaseError) as problem:
        broken = _("The restored data fails its checks in its new place.")
        raise BackupError(f"{broken} {kept}\n{problem}\n{out.getvalue()[-1000:]}") from problem


@transaction.atomic
def _record(**facts: Any) -> Backup:
    """A row and its seal, both or neither."""
    return Backup.objects.create(**facts)


def _record_restored(path: Path, manifest: Manifest, at: datetime) -> None:
    _record(
        made_at=datetime.fromisoformat(manifest.made_at),
        path=str(path.resolve()),
        size=path.stat().st_size,
        sha256=sha256_of(path),
        ok=True,
        note=_("The data was restored from this file."),
    )
    record_book_check(ok=True, at=at, note=_("Checked after restoring."))
    security.event("backup_restored", path=str(path.resolve()), made_at=manifest.made_at)


@contextmanager
def _alone() -> Iterator[None]:
    """Keep every other process off the books. Raises BackupError when one is using them.

    Whoever else is connected to PostgreSQL is met at the swap, which it then refuses.
    """
    if _is_in_memory():
        raise BackupError(_("This database exists in memory only; there is no file to restore into."))
    connections.close_all()
    try:
        with guard.alone(guard.books()):
            yield
    except guard.InUse as problem:
        raise BackupError(str(problem)) from None


@contextmanager
def _staging() -> Iterator[Path]:
    """A private folder on the disk of the books, gone afterwards."""
    with tempfile.TemporaryDirectory(prefix=".backup-", dir=_home()) as folder:
        yield Path(folder)


def _home() -> Path:
    """The folder of an SQLite file, so that staged files can take its place by renaming; else the data folder."""
    in_file = connection.vendor == "sqlite" and not _is_in_memory()
    home = Path(connection.settings_dict["NAME"]).parent if in_file else Path(settings.DATA_DIR)
    home.mkdir(mode=0o700, parents=True, exist_ok=True)
    return home


def _is_in_memory() -> bool:
    return connection.vendor == "sqlite" and bool(connection.is_in_memory_db())  # type: ignore[attr-defined]
