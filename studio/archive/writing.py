"""Writes an archive: table by table, photo by photo, out of one moment of the books and never all in memory."""

import csv
import hashlib
import io
import json
import os
import zipfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from itertools import chain
from pathlib import Path
from typing import IO, Any

from django.conf import settings
from django.db import connection, transaction
from django.db.models import Model

from studio.archive.contents import archived_models, columns_of, photo_columns, table_name
from studio.archive.errors import ArchiveError
from studio.archive.reading import FORMAT, FORMAT_NAME, MANIFEST, README
from studio.archive.readme import readme
from studio.backups.verification import applied_migrations, totals
from studio.translation import _
from studio.values.cell_text import safe_text

BATCH = 1000  # rows held at a time
BLOCK = 1024 * 1024


def export_archive(path: Path, *, at: datetime) -> dict[str, Any]:
    """Write an archive to a new file that only its owner may read, and return its manifest. Raises ArchiveError."""
    try:
        with os.fdopen(os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600), "w+b") as file:
            return write_archive(file, at=at)
    except FileExistsError:
        raise ArchiveError(_("{path} already exists. Choose another name.", path=path)) from None
    except BaseException as problem:
        with suppress(OSError):
            path.unlink()
        if isinstance(problem, OSError):
            raise ArchiveError(
                _("{path}: {problem}. No archive was made.", path=path, problem=problem.strerror)
            ) from problem
        raise


def write_archive(file: IO[bytes], *, at: datetime) -> dict[str, Any]:
    """The same into an open file."""
    with one_moment(), zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        writer = _Writer(archive)
        tables = {table_name(model): writer.add_table(model) for model in archived_models()}
        writer.add_photos()
        writer.add(README, [readme(at=at).encode()])
        with connection.cursor() as cursor:
            books = totals(cursor)
        manifest = {
            "archive": FORMAT_NAME,
            "format": FORMAT,
            "made_at": at.astimezone(UTC).isoformat(),
            "migrations": applied_migrations(),
            "totals": books,
            "tables": tables,
            "files": writer.files,
        }
        archive.writestr(MANIFEST, json.dumps(manifest, indent=1))
    file.flush()
    return manifest


class _Writer:
    """Adds members, and remembers what each of them is: its bytes and their SHA-256."""

    def __init__(self, archive: zipfile.ZipFile) -> None:
        self.archive = archive
        self.files: dict[str, dict[str, Any]] = {}

    def add(self, name: str, blocks: Iterable[bytes], *, is_packed: bool = False) -> None:
        entry = zipfile.ZipInfo(name)
        entry.external_attr = 0o600 << 16
        entry.compress_type = zipfile.ZIP_STORED if is_packed else zipfile.ZIP_DEFLATED
        digest, size = hashlib.sha256(), 0
        with self.archive.open(entry, "w", force_zip64=True) as member:
            for block in blocks:
                digest.update(block)
                size += len(block)
                member.write(block)
        self.files[name] = {"size": size, "sha256": digest.hexdigest()}

    def add_table(self, model: type[Model]) -> dict[str, Any]:
        """One table as JSON lines and as CSV; how many rows it has, and its columns."""
        name, columns = table_name(model), columns_of(model)
        heads, count = [column.name for column in columns], 0

        def lines() -> Iterator[bytes]:
            nonlocal count
            for row in rows_of(model):
                count += 1
                yield json.dumps(dict(zip(heads, row, strict=True)), ensure_ascii=False).encode() + b"\n"

        self.add(f"data/{name}.jsonl", lines())
        self.add(f"csv/{name}.csv", _csv(chain([heads], rows_of(model))))
        return {"rows": count, "columns": heads}

    def add_photos(self) -> None:
        """Every photo that a row names. One whose file is missing is left out; its row still names it."""
        root = Path(settings.MEDIA_ROOT)
        for model in archived_models():
            for column in photo_columns(model):
                names = model._base_manager.exclude(**{column: ""}).order_by(column).distinct()
                for name in names.values_list(column, flat=True).iterator(chunk_size=BATCH):
                    file = root / name
                    if f"photos/{name}" not in self.files and file.is_file() and not file.is_symlink():
                        self.add(f"photos/{name}", _blocks(file), is_packed=True)


def rows_of(model: type[Model]) -> Iterator[list[Any]]:
    """The rows of a table as an archive writes them, by their keys."""
    columns = columns_of(model)
    found = model._base_manager.order_by("pk").values_list(*(column.name for column in columns))
    for row in found.iterator(chunk_size=BATCH):
        yield [column.written(value) for column, value in zip(columns, row, strict=True)]


@contextmanager
def one_moment() -> Iterator[None]:
    """Read everything as it was at one moment, while others go on writing."""
    if connection.in_atomic_block:
        yield
    elif connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("BEGIN")  # one that only reads: a transaction of Django's would shut out writers
            try:
                yield
            finally:
                cursor.execute("ROLLBACK")
    else:
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
            yield


def _csv(rows: Iterable[list[Any]]) -> Iterator[bytes]:
    out = io.StringIO()
    writer = csv.writer(out, quoting=csv.QUOTE_NONNUMERIC)
    for row in rows:
        writer.writerow([_cell(value) for value in row])
        yield out.getvalue().encode()
        out.seek(0)
        out.truncate()


def _cell(value: Any) -> str | int | None:
    """A cell that no spreadsheet takes for a formula."""
    if isinstance(value, bool | list | dict | float):
        return json.dumps(value, ensure_ascii=False)
    return safe_text(value) if isinstance(value, str) else value


def _blocks(file: Path) -> Iterator[bytes]:
    with file.open("rb") as opened:
        while block := opened.read(BLOCK):
            yield block
