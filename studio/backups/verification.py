"""What a backup knows about the books in it: their totals, their migrations, and whether every rule holds."""

import json
import os
import subprocess
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.db import connection
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder

from studio.backups.archive import BackupError
from studio.translation import _

Fetch = Callable[[str], Sequence[Sequence[Any]]]

# A newer version of Meniscus brings older books up to date, and puts its own rules in place of older ones.
BRING_UP_TO_DATE = [["migrate", "--skip-checks", "--no-input"]]


@dataclass(frozen=True, slots=True)
class Proof:
    """What a floor proves of a copy: its totals, read by plain SQL, and a command that fails on any broken rule."""

    totals: Callable[[Fetch], dict[str, Any]]
    command: str


_PROOFS: list[Proof] = []

_RUN = """
import json, sys, django
django.setup()
from django.core.management import CommandError, call_command
try:
    for line in json.loads(sys.argv[1]):
        call_command(*line)
except CommandError as problem:
    sys.exit(str(problem))
"""


def register(proof: Proof) -> None:
    """Let every backup prove this as well."""
    if proof not in _PROOFS:
        _PROOFS.append(proof)


def proving_commands() -> list[str]:
    """The commands that look through the books for broken rules."""
    return [proof.command for proof in _PROOFS]


def rules_hold() -> list[list[str]]:
    """The command lines that prove a copy: the database's own rules first, then those of every floor."""
    return [["check", "--tag", "database", "--database", "default"], *([name] for name in proving_commands())]


def totals(cursor: Any) -> dict[str, Any]:
    """What the floors read from one database's own rows, to compare a copy with what its manifest describes."""

    def fetch(sql: str) -> list[Any]:
        cursor.execute(sql)
        return list(cursor.fetchall())

    return {key: value for proof in _PROOFS for key, value in proof.totals(fetch).items()}


def refuse_other_totals(present: dict[str, Any], expected: dict[str, Any]) -> None:
    """Raise BackupError unless the books are those that were expected."""
    if present != expected:
        raise BackupError(
            _(
                "The data in this backup is not what its manifest describes. Nothing was changed. "
                "Choose another backup file."
            )
        )


def applied_migrations() -> list[str]:
    """The migrations that the database has been through, as `app.name`."""
    return sorted(".".join(key) for key in MigrationRecorder(connection).applied_migrations())


def refuse_newer(migrations: Sequence[str]) -> None:
    """Raise BackupError when books have been through migrations that this version of Meniscus does not know."""
    known = {".".join(key) for key in MigrationLoader(None).disk_migrations}
    unknown = sorted(set(migrations) - known)
    if unknown:
        raise BackupError(
            _(
                "This backup was made by a newer version of Meniscus ({migration}). "
                "Install that version, then restore.",
                migration=unknown[0],
            )
        )


def run_on(url: str, commands: Sequence[Sequence[str]]) -> None:
    """Run management commands on another database, in a process of their own. Raises BackupError when one fails."""
    done = subprocess.run(  # noqa: S603 (our own interpreter and commands)
        [sys.executable, "-c", _RUN, json.dumps(commands)],
        env={"DJANGO_SETTINGS_MODULE": "studio.settings", **os.environ, "DATABASE_URL": url},
        cwd=settings.BASE_DIR,
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        last_lines = "\n".join((done.stdout + done.stderr).strip().splitlines()[-14:])
        raise BackupError(_("The data in this copy fails its checks:") + f"\n{last_lines}")
