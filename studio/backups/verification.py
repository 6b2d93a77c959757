"""What a backup knows about the books in it: their totals, their migrations, and whether every rule holds."""

import json
import os
import subprocess
import sys
from collections.abc import Callable, Sequence
from typing import Any

from django.apps import apps
from django.conf import settings
from django.db import connection
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder

from studio.backups.archive import BackupError
from studio.translation import _

Fetch = Callable[[str], Sequence[Sequence[Any]]]

RULES_HOLD = [["check", "--tag", "database", "--database", "default"], ["check_books"]]
# A newer version of Meniscus brings older books up to date, and puts its own rules in place of older ones.
BRING_UP_TO_DATE = [["migrate", "--skip-checks", "--no-input"]]

_RUN = """
import json, sys, django
django.setup()
from django.core.management import call_command
for line in json.loads(sys.argv[1]):
    call_command(*line)
"""


def totals(fetch: Fetch) -> dict[str, Any]:
    """How many postings there are, the last one's hash, and what every place holds, from one database's own rows."""
    head, entry = (apps.get_model("inventory", name)._meta.db_table for name in ("Books", "Entry"))
    number, last_hash = fetch(f"SELECT last_number, last_hash FROM {head}")[0]  # noqa: S608 (our own table names)
    places = fetch(f"SELECT place, SUM(quantity), SUM(money) FROM {entry} GROUP BY place")  # noqa: S608
    return {
        "postings": int(number),
        "last_hash": str(last_hash),
        "places": {
            str(place): {"quantity": int(quantity), "money": int(money)} for place, quantity, money in places
        },
    }


def refuse_other_totals(found: dict[str, Any], said: dict[str, Any]) -> None:
    """Raise BackupError unless the books found are the books that were said to be there."""
    if found != said:
        raise BackupError(
            _("The books in this backup are not those that its manifest describes. Nothing was changed.")
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
        said = "\n".join((done.stdout + done.stderr).strip().splitlines()[-6:])
        raise BackupError(_("The books in this copy do not hold:") + f"\n{said}")
