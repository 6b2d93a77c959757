"""Check the ledger and report what was checked."""

import json
from argparse import ArgumentParser
from dataclasses import asdict
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from django.utils import timezone

from inventory.ledger.kept_seals import KeptSeal, seals_in, seals_of_file
from inventory.ledger.models import Place
from inventory.ledger.month_ends import keep_month_ends
from inventory.ledger.verification import Report, check
from studio.backups.archive import BackupError
from studio.operations.health import record_book_check
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio

BROKEN = 1


class Command(BaseCommand):
    help = (
        "Check every rule of the ledger against its rows. It only reads, and the studio can carry on working. "
        "If everything agrees, past month-end figures are stored so that earlier dates load quickly. "
        "Exit status: 0 everything agrees, 1 a rule is broken; each broken rule is listed."
    )
    # It must be able to run, and to say so, on a database whose rules were taken off.
    requires_system_checks = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--seal",
            action="append",
            default=[],
            metavar="POSTING:SEAL",
            help="Compare with a seal kept elsewhere, such as the check figure on a printed year end. "
            "Can be given several times.",
        )
        parser.add_argument(
            "--seals-in",
            action="append",
            default=[],
            type=Path,
            metavar="FILE",
            help="Compare with every seal in a saved email or other text, or with that of a backup.",
        )
        parser.add_argument("--json", action="store_true", help="Write the whole report as JSON.")

    def handle(self, *args: Any, **options: Any) -> None:
        if "inventory_posting" not in connection.introspection.table_names():
            raise CommandError("This database is empty. Run `manage.py migrate` first.")
        report = check(kept=self._kept(options), progress=self._progress if self.stderr.isatty() else None)
        record_book_check(ok=report.is_clean, at=timezone.now())
        if report.is_clean:
            keep_month_ends(before=timezone.localdate())
        if options["json"]:
            self.stdout.write(json.dumps({**asdict(report), "is_clean": report.is_clean}, indent=2))
        else:
            self._table(report)
        if not report.is_clean:
            raise SystemExit(BROKEN)

    def _progress(self, postings: int) -> None:
        """One line that counts up, and that the report then overwrites: ten years of books take a while."""
        self.stderr.write(f"{postings:,} postings checked", ending="\r")
        self.stderr.flush()

    def _kept(self, options: dict[str, Any]) -> list[KeptSeal]:
        kept = []
        try:
            given = [(text, seals_in(text, "--seal")) for text in options["seal"]]
            given += [(str(file), seals_of_file(file)) for file in options["seals_in"]]
        except (OSError, BackupError) as problem:
            raise CommandError(str(problem)) from problem
        for source, found in given:
            if not found:
                raise CommandError(
                    f"{source}: no seal found. One reads 1042:, then 64 digits from 0 to 9 and a to f."
                )
            kept += found
        return kept

    def _table(self, report: Report) -> None:
        formatter = Formatter.of(Studio.current())
        width = max(len(rule.title) for rule in report.rules)
        self.stdout.write(f"{'rule':<{width}}  {'checked':>10}  broken")
        for rule in report.rules:
            self.stdout.write(f"{rule.title:<{width}}  {rule.checked:>10,}  {rule.broken:>6,}")
        self.stdout.write(f"\n{report.postings:,} postings, {report.entries:,} entries, {report.lots:,} lots")
        for place in Place:
            self.stdout.write(f"{place.label:<28}{formatter.money(report.money[place]):>18}")
        for each in report.breaks:
            self.stdout.write(f"\n{each.where} breaks “{each.rule}”: {each.what}")
        verdict = (
            "The ledger is correct."
            if report.is_clean
            else "The ledger is NOT correct: see the broken rules above."
        )
        self.stdout.write(f"\n{verdict} Last seal {report.last_hash}")
