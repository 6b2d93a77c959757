"""The database's own rules, lifted for an import and put back: they guard the steps of work, not a whole history.

What was imported is held against all of them afterwards, by the checks of every floor.
"""

from collections.abc import Iterator
from contextlib import contextmanager

from django.db import connection


@contextmanager
def without_triggers() -> Iterator[None]:
    """Lift every trigger within a transaction, and put each back as it was. References are checked at the end."""
    if connection.vendor == "sqlite":
        lift, put_back = _on_sqlite()
    else:
        lift, put_back = _on_postgresql()
    with connection.cursor() as cursor:
        for statement in lift:
            cursor.execute(statement)
        yield
        connection.check_constraints()
        for statement in put_back:
            cursor.execute(statement, None)


def _on_sqlite() -> tuple[list[str], list[str]]:
    with connection.cursor() as cursor:
        cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger' ORDER BY name")
        found = cursor.fetchall()
    quoted = connection.ops.quote_name
    return [f"DROP TRIGGER {quoted(name)}" for name, _sql in found], [sql for _name, sql in found]


def _on_postgresql() -> tuple[list[str], list[str]]:
    with connection.cursor() as cursor:
        cursor.execute("SELECT DISTINCT tgrelid::regclass::text FROM pg_trigger WHERE NOT tgisinternal")
        tables = [name for (name,) in cursor.fetchall()]
    # A table with checks that wait for the end of the transaction cannot be altered, so they are made now.
    now, later = "SET CONSTRAINTS ALL IMMEDIATE", "SET CONSTRAINTS ALL DEFERRED"
    return (
        [now, *(f"ALTER TABLE {table} DISABLE TRIGGER USER" for table in tables), later],
        [now, *(f"ALTER TABLE {table} ENABLE TRIGGER USER" for table in tables), later],
    )
