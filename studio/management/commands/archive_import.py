"""`manage.py archive_import`: fill an empty studio from an archive, completely or not at all."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from studio.archive.errors import ArchiveError
from studio.archive.importing import import_archive


class Command(BaseCommand):
    help = (
        "Fill an empty studio from an archive and check its books. People come without a password: "
        "give the owner one with changepassword."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            manifest = import_archive(options["file"], at=timezone.now())
        except ArchiveError as problem:
            raise CommandError(str(problem)) from problem
        rows = sum(table["rows"] for table in manifest["tables"].values())
        self.stdout.write(f"Imported and checked: {rows:,} rows, as of {manifest['made_at']}.")
        self.stdout.write("Nobody has a password yet. Give the owner one: manage.py changepassword NAME")
