"""Fills an empty studio from an archive, completely or not at all."""

import os
from collections import defaultdict
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from datetime import datetime
from io import StringIO
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib.auth.hashers import make_password
from django.core.management import call_command
from django.core.management.base import CommandError
from django.core.management.color import no_style
from django.db import DatabaseError, connection, transaction
from django.db.models import Model
from PIL import Image

from studio.accounts import security_log as security
from studio.accounts.models import User
from studio.archive.contents import archived_models, columns_of, first_rows, table_name
from studio.archive.errors import ArchiveError
from studio.archive.reading import OpenArchive, opened_archive
from studio.archive.rules import without_triggers
from studio.auditing import chain
from studio.auditing.sealed_rows import sealed_parts
from studio.backups.archive import BackupError, sha256_of
from studio.backups.verification import applied_migrations, refuse_newer, rules_hold, totals
from studio.operations.health import record_book_check
from studio.photos import missing_listed
from studio.translation import _

BATCH = 1000  # rows held at a time


def import_archive(path: Path, *, at: datetime) -> dict[str, Any]:
    """Fill an empty studio from an archive, check it to the last rule, and return the archive's manifest.

    Raises ArchiveError; then nothing was imported.
    """
    refuse_not_empty()
    with opened_archive(path) as archive:
        _refuse_other_tables(archive.manifest)
        with _photos_of(archive) as written, transaction.atomic():
            refuse_not_empty()
            _fill(archive)
            _seal_what_stayed_behind()
            for file, content in missing_listed():
                _write(file, [content], written)
            _prove(archive.manifest)
            record_book_check(ok=True, at=at, note=_("Checked after importing an archive."))
        security.event("archive_imported", path=str(path.resolve()))
        return archive.manifest


def refuse_not_empty() -> None:
    """Raise ArchiveError where there is anything that a person may have entered."""
    starting = set(first_rows())
    for model in archived_models():
        if model not in starting and model._base_manager.exists():
            raise ArchiveError(
                _(
                    "This studio is not empty: {table} has rows. An archive is imported into a new database only: "
                    "set DATABASE_URL and MENISCUS_DATA to new ones and run manage.py migrate.",
                    table=table_name(model),
                )
            )


def _refuse_other_tables(manifest: dict[str, Any]) -> None:
    """Tables and columns must be those of this version: what it does not know would be lost in silence."""
    try:
        refuse_newer(manifest["migrations"])
    except BackupError as problem:
        raise ArchiveError(str(problem)) from problem
    # Tables can look alike while what is in them means something else: an older version's are not taken either.
    own = {model._meta.app_label for model in archived_models()}
    ours = {name for name in applied_migrations() if name.partition(".")[0] in own}
    if missing := sorted(ours - set(manifest["migrations"])):
        raise ArchiveError(
            _(
                "This archive was made by an older version of Meniscus, before {migration}. "
                "Import it with the version that made it, then upgrade.",
                migration=missing[0],
            )
        )
    expected = {
        table_name(model): [column.name for column in columns_of(model)] for model in archived_models()
    }
    found = {name: table["columns"] for name, table in manifest["tables"].items()}
    files = {name for name in manifest["files"] if name.startswith("data/")}
    if found != expected or files != {f"data/{name}.jsonl" for name in expected}:
        different = sorted(name for name in {*found, *expected} if found.get(name) != expected.get(name))
        raise ArchiveError(
            _(
                "This archive was made by another version of Meniscus: its table {table} is different. "
                "Import it with the version that made it.",
                table=", ".join(different[:1]) or "–",
            )
        )


def _fill(archive: OpenArchive) -> None:
    try:
        with without_triggers():
            for model in first_rows():
                model._base_manager.all()._raw_delete(connection.alias)
            for model in archived_models():
                _fill_table(model, archive)
            for statement in connection.ops.sequence_reset_sql(no_style(), archived_models()):
                with connection.cursor() as cursor:
                    cursor.execute(statement)
    except DatabaseError as problem:
        raise ArchiveError(
            _("A rule of the database refuses what is in this archive: {problem}", problem=problem)
        ) from problem


def _fill_table(model: type[Model], archive: OpenArchive) -> None:
    count = 0
    for batch in _batches(_rows(model, archive)):
        model._base_manager.bulk_create(batch)
        count += len(batch)
    table = table_name(model)
    if count != archive.manifest["tables"][table]["rows"]:
        raise ArchiveError(
            _("This archive is damaged: {name} does not match its manifest.", name=f"data/{table}.jsonl")
        )


def _rows(model: type[Model], archive: OpenArchive) -> Iterator[Model]:
    columns = {column.name: column for column in columns_of(model)}
    table = table_name(model)
    for number, row in archive.rows(table):
        if row.keys() != columns.keys():
            raise ArchiveError(
                _(
                    "Line {number} of {name} cannot be read. Export the archive again.",
                    number=number,
                    name=f"data/{table}.jsonl",
                )
            )
        try:
            values = {name: columns[name].read(value) for name, value in row.items()}
        except ArchiveError as problem:
            where = _("Line {number} of {name}:", number=number, name=f"data/{table}.jsonl")
            raise ArchiveError(f"{where} {problem}") from None
        if model is User:
            values["password"] = make_password(None)  # nobody signs in before being given a new one
        yield model(**values)


def _batches(rows: Iterator[Model]) -> Iterator[list[Model]]:
    batch: list[Model] = []
    for row in rows:
        batch.append(row)
        if len(batch) == BATCH:
            yield batch
            batch = []
    if batch:
        yield batch


def _seal_what_stayed_behind() -> None:
    """Seal that the rows that do not travel are not here, and what stands in place of what was left out of others."""
    latest: chain.Latest = defaultdict(dict)
    for _break in chain.breaks(connection.alias, latest):
        pass  # the books are proven below
    travelled = set(archived_models())
    with chain.sealing():
        for part in sealed_parts():
            if part.model not in travelled or part.is_apart:
                chain.wrote_part(part, [row for row, last in latest[part.name].items() if last], gone=True)


def _prove(manifest: dict[str, Any]) -> None:
    """Hold everything against the rules of every floor, and the books against what the archive says of them."""
    out = StringIO()
    try:
        for line in rules_hold():
            call_command(*line, stdout=out, stderr=out)
    except (CommandError, SystemExit, DatabaseError) as problem:
        broken = _("What is in this archive breaks the rules of the ledger. Nothing was imported.")
        raise ArchiveError(f"{broken}\n{problem}\n{out.getvalue()[-2000:]}") from problem
    with connection.cursor() as cursor:
        if totals(cursor) != manifest["totals"]:
            raise ArchiveError(
                _(
                    "The books in this archive are not those that its manifest describes. Nothing was imported."
                )
            )


@contextmanager
def _photos_of(archive: OpenArchive) -> Iterator[list[Path]]:
    """Put the photos in place for what happens inside, and take them away again if that fails: whatever is listed.

    They have random names and come before the rows, so a crash in between leaves only unused files.
    """
    written: list[Path] = []
    try:
        for name in archive.photos:
            _bring(archive, name, written)
        yield written
    except BaseException:
        for file in written:
            with suppress(OSError):
                file.unlink()
        raise


def _bring(archive: OpenArchive, name: str, written: list[Path]) -> None:
    file = Path(settings.MEDIA_ROOT) / name
    file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    if file.exists():
        if sha256_of(file) != archive.manifest["files"][f"photos/{name}"]["sha256"]:
            raise ArchiveError(
                _("There is another file at {path} already. Empty the folder of photos first.", path=file)
            )
        return
    _write(file, archive.photo(name), written)
    try:
        with Image.open(file) as picture:
            picture.verify()
    except (OSError, SyntaxError, ValueError, Image.DecompressionBombError):
        raise ArchiveError(
            _("{name} is not a picture. Nothing was imported.", name=f"photos/{name}")
        ) from None


def _write(file: Path, blocks: Iterable[bytes], written: list[Path]) -> None:
    with os.fdopen(os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as opened:
        written.append(file)
        for block in blocks:
            opened.write(block)
