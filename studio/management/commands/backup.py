"""`manage.py backup`: one file with the data and the photos, verified before it is accepted."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from studio.backups.actions import backup_into, make_backup
from studio.backups.archive import BackupError


class Command(BaseCommand):
    help = "Back up data and photos into one file and verify it; exits with an error if anything is wrong."

    def add_arguments(self, parser: ArgumentParser) -> None:
        where = parser.add_mutually_exclusive_group()
        where.add_argument("file", nargs="?", type=Path, help="the file to create; it must not exist yet")
        where.add_argument(
            "--to", type=Path, metavar="FOLDER", help="a folder; the file is named after its time"
        )
        parser.add_argument("--keep", type=int, help="with a folder: how many of the newest backups to keep")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["keep"] is not None and (options["file"] or options["keep"] < 1):
            raise CommandError("--keep needs a folder and a number of 1 or more.")
        try:
            if options["file"]:
                made = make_backup(options["file"], at=timezone.now())
            else:
                folder = options["to"] or Path(settings.BACKUPS)
                made = backup_into(folder, at=timezone.now(), keep=options["keep"])
        except BackupError as problem:
            raise CommandError(str(problem)) from problem
        self.stdout.write(f"{made.path}: {made.size:,} bytes, SHA-256 {made.sha256}. {made.note}")
