"""Start-up checks of the database: are the ledger's own rules in place?"""

from collections.abc import Sequence
from typing import Any

from django.core.checks import CheckMessage, Error
from django.core.checks import Warning as CheckWarning
from django.db import connections
from django.db.utils import OperationalError

from inventory.ledger import database_rules


def database_rules_in_place(databases: Sequence[str] | None = None, **kwargs: Any) -> list[CheckMessage]:
    """Refuse to go on when a ledger rule is missing or altered; warn about SQLite releases with a known flaw."""
    found: list[CheckMessage] = []
    for alias in databases or []:
        connection = connections[alias]
        try:
            if "inventory_posting" not in connection.introspection.table_names():
                continue
            found += [
                Error(
                    f"Ledger rule {problem}.",
                    hint="Find out who changed the database, then run `manage.py migrate --skip-checks`.",
                    id="inventory.E001",
                )
                for problem in database_rules.differences(alias)
            ]
        except OperationalError:
            continue
        if connection.vendor == "sqlite":
            found += _sqlite_release_warning()
    return found


def _sqlite_release_warning() -> list[CheckMessage]:
    import sqlite3

    if (3, 7, 0) <= sqlite3.sqlite_version_info < (3, 51, 3):
        return [
            CheckWarning(
                f"SQLite {sqlite3.sqlite_version} has a rare flaw in resetting its write-ahead log.",
                hint="Use SQLite 3.51.3 or later, or PostgreSQL, for a studio's real books; keep backups.",
                id="inventory.W001",
            )
        ]
    return []
