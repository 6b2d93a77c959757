"""How the tables of Meniscus are defined in a database, compared with the same tables newly built from the models.

Whoever can change a table's definition can take its rules off without touching a row: a dropped unique index, an
edited check, another collation, row security, a rewritten statement. So definitions are compared whole, line by line,
as text: the expected ones come from tables that are built for just that (in memory on SQLite, as temporary ones on
PostgreSQL) and so are written the way that this release of the database writes them. The list of migrations is
compared with our files. Triggers are no part of it: see `inventory/ledger/database_rules.py`.
"""

import re
from collections import Counter
from collections.abc import Collection, Iterator
from contextlib import closing
from functools import cache
from typing import Any

from django.apps import apps
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder
from django.db.models import Model

# The framework's own tables of groups came about in steps, which left another column type than models say. Unused here.
LEFT_OUT = "auth"

_POSTGRESQL = """
WITH ours AS (SELECT oid, relname FROM pg_class
              WHERE relkind IN ('r', 'p', 'v', 'm', 'f') AND relnamespace = {schema} AND relname = ANY(%s))
SELECT ours.relname, concat_ws(' ', quote_ident(attname), format_type(atttypid, atttypmod),
       CASE WHEN attcollation <> typcollation THEN 'COLLATE ' || attcollation::regcollation END,
       CASE WHEN attnotnull THEN 'NOT NULL' END, NULLIF(attidentity, ''), NULLIF(attgenerated, ''),
       'DEFAULT ' || pg_get_expr(adbin, adrelid))
  FROM ours JOIN pg_attribute ON attrelid = ours.oid AND attnum > 0 AND NOT attisdropped
  JOIN pg_type t ON t.oid = atttypid
  LEFT JOIN pg_attrdef ON adrelid = attrelid AND adnum = attnum
UNION ALL
SELECT relname, concat_ws(' ', CASE contype WHEN 'c' THEN conname END, pg_get_constraintdef(c.oid),
       CASE WHEN NOT convalidated THEN 'NOT VALIDATED' END)
  FROM ours JOIN pg_constraint c ON conrelid = ours.oid WHERE contype IN ('c', 'f', 'p', 'u', 'x')
UNION ALL
SELECT relname, concat_ws(' ', regexp_replace(pg_get_indexdef(indexrelid), 'INDEX \\S+ ON \\S+', 'INDEX'),
       CASE WHEN NOT (indisvalid AND indisready AND indislive) THEN 'INVALID' END)
  FROM ours JOIN pg_index ON indrelid = ours.oid
UNION ALL
SELECT relname, 'rewritten by rule ' || rulename FROM ours JOIN pg_rewrite ON ev_class = ours.oid
UNION ALL
SELECT relname, 'policy ' || polname FROM ours JOIN pg_policy ON polrelid = ours.oid
UNION ALL
SELECT c.relname, 'row security' FROM ours JOIN pg_class c USING (oid) WHERE c.relrowsecurity OR c.relforcerowsecurity
UNION ALL
SELECT relname, 'has another table as a part' FROM ours JOIN pg_inherits ON inhparent = ours.oid OR inhrelid = ours.oid
UNION ALL
SELECT c.relname, 'unlogged' FROM ours JOIN pg_class c USING (oid) WHERE c.relpersistence = 'u'
"""


def differences(using: str = "default") -> list[tuple[str, str, bool]]:
    """What is not as it should be: table, definition, and whether that is missing (or else should not be there)."""
    connection = connections[using]
    wanted = _expected(using)
    with connection.cursor() as cursor:
        present = _read(connection.vendor, cursor, {table for table, _line in wanted})
    return [(*line, True) for line in sorted(wanted - present)] + [
        (*line, False) for line in sorted(present - wanted)
    ]


@cache
def _migrations() -> Counter[tuple[str, str]]:
    return Counter(MigrationLoader(None).disk_migrations.keys())


def other_migrations(using: str = "default") -> list[tuple[str, bool]]:
    """Migrations of which the database tells something else than our files: names, and whether one is missing."""
    wanted = _migrations()
    told = Counter(MigrationRecorder(connections[using]).migration_qs.values_list("app", "name"))
    return [(".".join(key), True) for key in sorted(wanted - told)] + [
        (".".join(key), False) for key in sorted(told - wanted)
    ]


@cache
def _expected(using: str) -> frozenset[tuple[str, str]]:
    """The definitions of freshly built tables."""
    connection = connections[using]
    in_memory = {"NAME": ":memory:"} if connection.vendor == "sqlite" else {}
    own = type(connection)({**connection.settings_dict, **in_memory}, alias=f"fresh-{using}")
    with closing(own):
        if own.vendor == "sqlite":
            return _built(own)
        with own.cursor() as cursor:
            cursor.execute("SET search_path TO pg_temp")  # gone with this connection
        return _built(own)


def _built(own: BaseDatabaseWrapper) -> frozenset[tuple[str, str]]:
    managed = [model for model in apps.get_models(include_auto_created=True) if model._meta.managed]
    models: list[type[Model]] = [*managed, MigrationRecorder.Migration]
    with own.schema_editor(atomic=False) as editor:
        for model in models:
            if not model._meta.auto_created and not model._meta.proxy:
                editor.create_model(model)  # with the tables of its many-to-many fields
    with own.cursor() as cursor:
        return _read(
            own.vendor,
            cursor,
            {model._meta.db_table for model in models if model._meta.app_label != LEFT_OUT},
        )


def _read(vendor: str, cursor: Any, tables: Collection[str]) -> frozenset[tuple[str, str]]:
    if vendor == "sqlite":
        cursor.execute(
            "SELECT tbl_name, type, sql FROM sqlite_master WHERE type <> 'trigger' AND sql IS NOT NULL"
        )
        rows = [row for row in cursor.fetchall() if row[0] in tables]
        return frozenset((table, part) for table, kind, sql in rows for part in _parts(kind, sql))
    cursor.execute("SELECT current_schemas(true)")
    schema = (
        "pg_my_temp_schema()"
        if cursor.fetchone()[0][0].startswith("pg_temp")
        else "current_schema()::regnamespace"
    )
    cursor.execute(_POSTGRESQL.format(schema=schema), [list(tables)])
    return frozenset((table, _one_way(line)) for table, line in cursor.fetchall())


def _one_way(line: str) -> str:
    """A definition without its schema, and a condition without the brackets and casts that PostgreSQL sets itself.

    It sets them otherwise once a table was dumped and restored, although the condition is the same. So a condition
    whose brackets alone were changed is not told from the right one; every other change is.
    """
    line = re.sub(r"\b(pg_temp(_\d+)?|public)\.", "", line)
    if " CHECK (" in line or " WHERE (" in line:
        line = re.sub(r"::(character varying|[a-z]+)(\[\])?", "", re.sub(r"[()]", "", line))
    return line


def _parts(kind: str, sql: str) -> Iterator[str]:
    """A definition's parts: a table's columns and constraints one by one, in any order; an index without its name."""
    if kind != "table":
        yield re.sub(r'^(CREATE (?:UNIQUE )?INDEX) "[^"]*"', r"\1", " ".join(sql.split()))
        return
    opening, closing_at = sql.index("("), sql.rindex(")")
    depth, quote, part = 0, "", ""
    for sign in sql[opening + 1 : closing_at]:
        if quote:
            quote = "" if sign == quote else quote
        elif sign in "\"'":
            quote = sign
        depth += 0 if quote else (sign == "(") - (sign == ")")
        if sign == "," and not depth and not quote:
            yield part.strip()
            part = ""
        else:
            part += sign
    yield part.strip()
    if rest := sql[closing_at + 1 :].strip():
        yield rest
