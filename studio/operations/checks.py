"""Start-up checks of the database: does an acknowledged commit survive a power cut, and is it a real studio's?"""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error, run_checks
from django.core.checks import Warning as CheckWarning
from django.core.exceptions import ImproperlyConfigured
from django.db import DatabaseError, connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.utils import OperationalError

LARGEST_LOG = 256 * 1024 * 1024  # bytes; a larger one is never folded in, because somebody reads on for ever


def database_keeps_its_word(databases: Sequence[str] | None = None, **kwargs: Any) -> list[CheckMessage]:
    """Refuse settings under which acknowledged postings can be lost."""
    messages: list[CheckMessage] = []
    for connection in (connections[alias] for alias in databases or []):
        try:
            messages += _sqlite(connection) if connection.vendor == "sqlite" else _postgresql(connection)
        except OperationalError:
            continue
    return messages


def demo_is_asked_for(databases: Sequence[str] | None = None, **kwargs: Any) -> list[CheckMessage]:
    """Refuse to serve the demo's database in production by mistake."""
    if not settings.PRODUCTION or settings.DEMO or "default" not in (databases or []):
        return []
    from studio.preferences.models import (
        Studio,
    )  # not before the apps are loaded: the server reads this module first

    try:
        is_demo = Studio.objects.filter(is_demo=True).exists()
    except DatabaseError:  # not there yet, or out of reach: others tell of that
        return []
    advice = (
        "Give your own studio an empty database: set MENISCUS_DATA to an empty folder or DATABASE_URL to an empty "
        "database, and run `manage.py migrate`. To serve the demo on purpose, set MENISCUS_DEMO=1."
    )
    problem = "This database holds the demo: everything in it is invented, and anyone can read its passwords."
    return [Error(problem, hint=advice, id="studio.E003")] if is_demo else []


def refuse_unsafe_books() -> None:
    """Raise ImproperlyConfigured when the database's rules or settings are not those that keep the books safe."""
    problems = [
        message for message in run_checks(tags=["database"], databases=["default"]) if message.is_serious()
    ]
    if problems:
        words = " ".join(f"{problem.msg} {problem.hint or ''}".strip() for problem in problems[:5])
        raise ImproperlyConfigured(f"Not starting: {words}")


def large_log(connection: BaseDatabaseWrapper) -> Path | None:
    """SQLite's write-ahead log, if it has grown past what it should; PostgreSQL looks after its own."""
    if connection.vendor != "sqlite":
        return None
    log = Path(f"{connection.settings_dict['NAME']}-wal")
    return log if log.exists() and log.stat().st_size > LARGEST_LOG else None


def _postgresql(connection: BaseDatabaseWrapper) -> list[CheckMessage]:
    return [
        Error(
            f"PostgreSQL runs with {setting} off, and so may lose postings that it has acknowledged.",
            hint=f"Set {setting} on for this server, database and role.",
            id="studio.E001",
        )
        for setting in ("synchronous_commit", "fsync", "full_page_writes")
        if _value(connection, f"SHOW {setting}") == "off"
    ]


def _sqlite(connection: BaseDatabaseWrapper) -> list[CheckMessage]:
    messages: list[CheckMessage] = []
    is_full = int(_value(connection, "PRAGMA synchronous")) >= 2
    if not is_full or int(_value(connection, "PRAGMA recursive_triggers")) != 1:
        messages.append(
            Error(
                "SQLite runs without synchronous=FULL or without recursive_triggers.",
                hint="Keep the init_command of studio/settings.py.",
                id="studio.E002",
            )
        )
    log = large_log(connection)
    if log is not None:
        messages.append(
            CheckWarning(
                f"The write-ahead log {log} has grown past {LARGEST_LOG // 1024**2} MB.",
                hint="Find the program that keeps the database open, then restart the server.",
                id="studio.W001",
            )
        )
    return messages


def _value(connection: BaseDatabaseWrapper, sql: str) -> str:
    with connection.cursor() as cursor:
        cursor.execute(sql)
        return str(cursor.fetchone()[0])
