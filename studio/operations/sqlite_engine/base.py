"""A thin layer over Django's SQLite engine.

Django rebuilds a table for many migration operations (copy, drop, rename) and silently loses its triggers.
Triggers elsewhere that mention the table can even make the rename fail. The ledger's rules are triggers, so
they are set aside and put back.
"""

import random
import time
from pathlib import Path
from typing import Any

from django.db import OperationalError
from django.db.backends.sqlite3.base import DatabaseWrapper as SQLiteDatabaseWrapper
from django.db.backends.sqlite3.schema import DatabaseSchemaEditor as SQLiteSchemaEditor
from django.db.models import Model

from studio.operations import database_guard as serving
from studio.values.folding import SQLITE_FUNCTION, fold

LOOKS_AGAIN_AFTER = (
    0.003,
    0.006,
)  # seconds, drawn between these so that waiting writers do not march in step


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
    """SQLite with the trigger-keeping schema editor; whoever opens the file is known to a restore."""

    SchemaEditorClass = DatabaseSchemaEditor

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

    def _start_transaction_under_autocommit(self) -> None:
        """Begin a transaction, taking turns with other writers.

        SQLite's own waiting sleeps longer each time, up to a tenth of a second, so whoever has waited longest looks
        least often and may starve while newcomers go ahead. Here everybody who waits looks equally often.
        """
        patience = float(self.settings_dict["OPTIONS"].get("timeout", 5.0))
        until = time.monotonic() + patience
        raw = self.connection
        raw.execute("PRAGMA busy_timeout = 0")
        try:
            while not self._begun(last_look=time.monotonic() > until):
                time.sleep(random.uniform(*LOOKS_AGAIN_AFTER))  # noqa: S311 - not a secret
        finally:
            raw.execute(f"PRAGMA busy_timeout = {round(patience * 1000)}")

    def _begun(self, *, last_look: bool) -> bool:
        try:
            super()._start_transaction_under_autocommit()  # type: ignore[misc]
        except OperationalError as problem:
            if last_look or "locked" not in str(problem):
                raise
            return False
        return True
