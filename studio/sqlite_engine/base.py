"""A thin layer over Django's SQLite engine.

Django rebuilds a table for many migration operations (copy, drop, rename) and silently loses its triggers.
Triggers elsewhere that mention the table can even make the rename fail. The ledger's rules are triggers, so
they are set aside and put back.
"""

from pathlib import Path
from typing import Any

from django.db.backends.sqlite3.base import DatabaseWrapper as SQLiteDatabaseWrapper
from django.db.backends.sqlite3.schema import DatabaseSchemaEditor as SQLiteSchemaEditor
from django.db.models import Model

from studio import serving


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
            serving.hold(file)
            if not file.exists():  # SQLite itself would make it readable for everybody on the machine
                file.touch(mode=0o600)
        return super().get_new_connection(conn_params)
