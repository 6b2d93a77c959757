"""A thin layer over Django's SQLite engine.

Django rebuilds a table for many migration operations (copy, drop, rename) and silently loses its triggers.
Triggers elsewhere that mention the table can even make the rename fail. The ledger's rules are triggers, so
they are set aside and put back.
"""

from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

from django.db import OperationalError, transaction
from django.db.backends.sqlite3.base import DatabaseWrapper as SQLiteDatabaseWrapper
from django.db.backends.sqlite3.schema import DatabaseSchemaEditor as SQLiteSchemaEditor
from django.db.backends.utils import debug_transaction
from django.db.models import Model

from studio.operations import database_guard as serving
from studio.operations.sqlite_engine.turns import WAITING, in_turn, is_locked, with_patience
from studio.values.folding import SQLITE_FUNCTION, fold

Result = TypeVar("Result")


def _folded(text: str | None) -> str | None:
    return None if text is None else fold(text)


class DatabaseSchemaEditor(SQLiteSchemaEditor):
    """Schema editor that keeps every trigger across a table rebuild."""

    def _remake_table(self, model: type[Model], *args: Any, **kwargs: Any) -> None:
        with self.connection.cursor() as cursor:
            cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger' ORDER BY name")
            triggers: list[tuple[str, str]] = cursor.fetchall()
        for name, _ in triggers:
            self.execute(f"DROP TRIGGER {self.quote_name(name)}")
        super()._remake_table(model, *args, **kwargs)  # type: ignore[misc]
        for _, definition in triggers:
            self.execute(definition, params=None)


class DatabaseWrapper(SQLiteDatabaseWrapper):
    """SQLite with the trigger-keeping schema editor; whoever opens the file is known to a restore.

    No thread ever waits for a lock inside SQLite, where it would hold its connection's mutex: another thread that has
    the lock may need that mutex, because the garbage collector hands it a forgotten cursor of the first to close, and
    both would stand still until the patience of the first is at its end. So SQLite is told not to wait, and the waiting
    is done here. SQLite's own would also sleep longer each time, so that whoever has waited longest looks least often
    and may starve.
    """

    SchemaEditorClass = DatabaseSchemaEditor

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.execute_wrappers.append(_patiently)

    @property
    def patience(self) -> float:
        """Seconds that somebody waits for a lock."""
        return float(self.settings_dict["OPTIONS"].get("timeout", 5.0))

    def get_new_connection(self, conn_params: dict[str, Any]) -> Any:
        if not self.is_in_memory_db():
            file = Path(self.settings_dict["NAME"])
            serving.refuse_gone(file)
            serving.hold(file)
            if not file.exists():  # SQLite itself would make it readable for everybody on the machine
                file.touch(mode=0o600)
        connection = super().get_new_connection(conn_params)
        connection.create_function(SQLITE_FUNCTION, 1, _folded, deterministic=True)
        return connection

    def init_connection_state(self) -> None:
        super().init_connection_state()
        self.connection.execute("PRAGMA busy_timeout = 0").close()

    def _start_transaction_under_autocommit(self) -> None:
        """Begin a transaction, taking turns with other writers.

        On the driver's own connection: each of Django's errors would leave a cursor behind for the garbage collector.
        """
        begin = f"BEGIN {self.transaction_mode or ''}"  # type: ignore[attr-defined]
        with debug_transaction(self, begin), self.wrap_database_errors:
            self.in_turn(lambda: self.connection.execute(begin).close())

    def in_turn(self, act: Callable[[], Result]) -> Result:
        """Act once the lock is free."""
        if self.is_in_memory_db():
            return with_patience(act, self.patience, WAITING)
        return in_turn(act, Path(self.settings_dict["NAME"]), self.patience)

    def _commit(self) -> None:
        if self.connection is not None:
            with_patience(super()._commit, self.patience, WAITING)  # type: ignore[misc]


def _patiently(
    execute: Callable[..., Any], sql: str, params: Any, many: bool, context: dict[str, Any]
) -> Any:
    """Carry out a statement outside any transaction, again while somebody else has the lock: it did nothing yet."""
    connection = context["connection"]
    if connection.in_atomic_block:
        return execute(sql, params, many, context)
    if many:  # some of its rows may be written when the lock is taken by somebody else
        with transaction.atomic(using=connection.alias):
            return execute(sql, params, many, context)
    try:
        return execute(sql, params, many, context)
    except OperationalError as problem:
        if not is_locked(problem):
            raise
    return connection.in_turn(lambda: execute(sql, params, many, context))
