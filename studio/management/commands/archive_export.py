"""`manage.py archive_export`: everything in one open file that any program reads."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from studio.accounts import security_log as security
from studio.archive.errors import ArchiveError
from studio.archive.writing import export_archive


class Command(BaseCommand):
    help = "Write everything the studio recorded, with its photos, into one open archive of plain text."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="the file to create; it must not exist yet")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            manifest = export_archive(options["file"], at=timezone.now())
        except ArchiveError as problem:
            raise CommandError(str(problem)) from problem
        security.event("archive_made", path=str(options["file"].resolve()))
        rows = sum(table["rows"] for table in manifest["tables"].values())
        photos = sum(name.startswith("photos/") for name in manifest["files"])
        self.stdout.write(
            f"{options['file']}: {rows:,} rows in {len(manifest['tables'])} tables, {photos:,} photos."
        )
