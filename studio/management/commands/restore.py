"""`manage.py restore`: replace the live data with a backup, completely or not at all."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from studio.backups.actions import backup_key, restore_backup
from studio.backups.archive import BackupError, read_manifest


class Command(BaseCommand):
    help = "Replace the live data and photos with a backup. The previous data is kept. Stop the server first."
    requires_system_checks = []  # the live books may be the very thing that is broken

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--yes", action="store_true", help="do not ask")
        parser.add_argument(
            "--any-key",
            action="store_true",
            help="take a backup that was sealed with another key; only if you know where the file comes from",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            manifest = read_manifest(options["file"], key=None if options["any_key"] else backup_key())
            self.stdout.write(
                f"Made {manifest.made_at}: {manifest.totals.get('postings')} postings, "
                f"{len(manifest.members) - 1} photos."
            )
            if not options["yes"]:
                _ask()
            kept = restore_backup(options["file"], at=timezone.now(), any_key=options["any_key"])
        except BackupError as problem:
            raise CommandError(str(problem)) from problem
        self.stdout.write(f"Restored and checked. {kept}".rstrip())


def _ask() -> None:
    """Raise CommandError unless somebody says yes."""
    try:
        answer = input("Replace the live books with these? Type yes: ")
    except EOFError:
        raise CommandError("No terminal to ask in. Nothing was changed; add --yes to restore.") from None
    if answer.strip() != "yes":
        raise CommandError("Nothing was changed.")
