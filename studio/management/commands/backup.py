"""`manage.py backup`: one file with the books and the photos, proved before it counts."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from studio.backups.actions import backup_into, make_backup
from studio.backups.archive import BackupError


class Command(BaseCommand):
    help = "Backs the books and photos up into one file, checks that file to the last rule, and fails loudly."

    def add_arguments(self, parser: ArgumentParser) -> None:
        where = parser.add_mutually_exclusive_group()
        where.add_argument("file", nargs="?", type=Path, help="the file to make; it must not exist yet")
        where.add_argument(
            "--to", type=Path, metavar="FOLDER", help="a folder; the file is named by its time"
        )
        parser.add_argument("--keep", type=int, help="with a folder: keep only so many of the newest backups")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["keep"] is not None and (options["file"] or options["keep"] < 1):
            raise CommandError("--keep takes a number from 1 up, and goes with a folder.")
        try:
            if options["file"]:
                made = make_backup(options["file"], at=timezone.now())
            else:
                folder = options["to"] or Path(settings.BACKUPS)
                made = backup_into(folder, at=timezone.now(), keep=options["keep"])
        except BackupError as problem:
            raise CommandError(str(problem)) from problem
        self.stdout.write(f"{made.path}: {made.size:,} bytes, SHA-256 {made.sha256}. {made.note}")
