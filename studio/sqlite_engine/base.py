"""A thin layer over Django's SQLite engine.

Django rebuilds a table for many migration operations (copy, drop, rename) and silently loses its triggers. Triggers elsewhere that
mention the table can even make the rename fail. The ledger's rules are triggers, so they are set aside and put back.
"""

from typing import Any

from django.db.backends.sqlite3.base import DatabaseWrapper as SQLiteDatabaseWrapper
from django.db.backends.sqlite3.schema import DatabaseSchemaEditor as SQLiteSchemaEditor
from django.db.models import Model


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
    """SQLite with the trigger-keeping schema editor."""

    SchemaEditorClass = DatabaseSchemaEditor
