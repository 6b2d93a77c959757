"""The ledger's rules as the database itself keeps them: triggers on SQLite and PostgreSQL.

Entries are inserted first, the posting that seals them last. The seal refuses an unbalanced posting, a gap in
the numbers, a broken chain or a reversal that does not mirror; then it brings the balances and the ledger's
head up to date. So a half posting cannot exist, and nobody but the database writes a balance. The rules are
installed after every migration, and a system check compares what is installed with what stands here.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from django.apps import apps
from django.db import connections, transaction
from django.db.models import Model, UniqueConstraint

from inventory.ledger import postgresql_ways_round
from studio.operations import definitions
from studio.translation import _

PREFIX = "meniscus_"


@dataclass(frozen=True)
class Rule:
    """One trigger: when it fires, on which table, and what it does in each database's own words."""

    name: str
    table: str
    when: str
    body: str

    @property
    def trigger(self) -> str:
        return f"{PREFIX}{self.name}"


@cache
def rules(vendor: str) -> tuple[Rule, ...]:
    """Read a vendor's rules from the rooms' `sql` folders: blocks headed `-- rule NAME | TABLE | WHEN`."""
    files = sorted(Path(__file__).parents[2].glob(f"*/*/sql/{vendor}.sql"))
    blocks = [block for file in files for block in file.read_text(encoding="utf-8").split("\n-- rule ")[1:]]
    written = [_rule(*block.split("\n", 1)) for block in blocks]
    if vendor != "sqlite":
        return tuple(written)
    # SQLite asks the youngest rule first: those that say most are to speak before these.
    return (*(_no_replacing(table) for table in sorted({rule.table for rule in written})), *written)


def _no_replacing(table: str) -> Rule:
    """The rule that nothing is inserted where a row is already.

    SQLite's REPLACE takes the earlier row away without asking the rules about deleting, where recursive triggers are
    off: that is a setting of whoever opens the file.
    """
    model = next(each for each in apps.get_models(include_auto_created=True) if each._meta.db_table == table)
    checks = [
        f"SELECT RAISE(ABORT, 'record: there is one with this {name}; no row replaces another')\n"  # noqa: S608
        f"WHERE EXISTS (SELECT 1 FROM {table} WHERE {condition});"
        for name, condition in _keys_of(model)
    ]
    return Rule(f"{table}_no_replace", table, "BEFORE INSERT", "\n".join(checks))


def _keys_of(model: type[Model]) -> Iterator[tuple[str, str]]:
    """Each key that no two rows share: its columns, and when a row of the table stands in the way of a NEW one."""
    columns = {field.name: str(field.column) for field in model._meta.concrete_fields}
    for field in model._meta.concrete_fields:
        if field.unique:
            yield columns[field.name], f'"{field.column}" = NEW."{field.column}"'
    editor = connections["default"].schema_editor()
    for key in model._meta.constraints:
        if isinstance(key, UniqueConstraint):
            names = [columns[name] for name in key.fields]
            same = [f'"{name}" = NEW."{name}"' for name in names]
            only = key._get_condition_sql(model, editor)  # type: ignore[attr-defined]
            more = [only, re.sub(r'"(\w+)"', r'NEW."\1"', only)] if only else []
            yield ", ".join(names), " AND ".join((*same, *more))


def _rule(heading: str, body: str) -> Rule:
    name, table, when = (part.strip() for part in heading.split("|"))
    return Rule(name, table, when, body.strip())


def statements(vendor: str, rule: Rule, *, path: str = "") -> list[str]:
    """The SQL that installs one rule; `path` is where PostgreSQL's functions look their names up."""
    if vendor == "sqlite":
        when, _, condition = rule.when.partition(" WHEN ")
        guard = f" WHEN {condition}" if condition else ""
        return [
            f"CREATE TRIGGER {rule.trigger} {when} ON {rule.table} FOR EACH ROW{guard} BEGIN\n{rule.body}\nEND"
        ]
    each = "STATEMENT" if "TRUNCATE" in rule.when else "ROW"
    when, _, condition = rule.when.partition(" WHEN ")
    guard = f" WHEN ({condition})" if condition else ""
    return [
        f"CREATE OR REPLACE FUNCTION {rule.trigger}() RETURNS trigger LANGUAGE plpgsql SET search_path TO {path} "
        f"AS $rule$\n{rule.body}\n$rule$",
        f"CREATE TRIGGER {rule.trigger} {when} ON {rule.table} FOR EACH {each}{guard} "
        f"EXECUTE FUNCTION {rule.trigger}()",
    ]


def install(using: str = "default") -> None:
    """Replace whatever rules the database has by the canonical ones; rules for tables not yet migrated wait."""
    connection = connections[using]
    remove(using)
    with transaction.atomic(using=using), connection.cursor() as cursor:
        tables = set(connection.introspection.table_names(cursor))
        if not {rule.table for rule in rules(connection.vendor)} <= tables:
            return
        path = _path(cursor) if connection.vendor == "postgresql" else ""
        for rule in rules(connection.vendor):
            for statement in statements(connection.vendor, rule, path=path):
                cursor.execute(statement)


def _path(cursor: Any) -> str:
    """Where a rule looks names up, whoever asks it: temporary tables, which anybody can make, come last."""
    cursor.execute("SELECT current_schema()")
    return f"pg_catalog, {cursor.fetchone()[0]}, pg_temp"


def remove(using: str = "default") -> None:
    """Take the rules off. For table maintenance by tests and restores only; `install` puts them back."""
    connection = connections[using]
    with transaction.atomic(using=using), connection.cursor() as cursor:
        for name, table in _installed_names(cursor, connection.vendor):
            if connection.vendor == "sqlite":
                cursor.execute(f"DROP TRIGGER {name}")
            else:
                cursor.execute(f"DROP TRIGGER {name} ON {table}")


def differences(using: str = "default") -> list[str]:
    """Name every rule that is missing, altered or unknown, and everything else that was changed about our tables.

    An empty list means that the rules are in place, and nothing beside them.
    """
    connection = connections[using]
    with connection.cursor() as cursor:
        path = _path(cursor) if connection.vendor == "postgresql" else ""
        wanted = {
            rule.trigger: _fingerprint(connection.vendor, rule, path) for rule in rules(connection.vendor)
        }
        found = _installed(cursor, connection.vendor)
        ways_round = [*postgresql_ways_round.found(cursor)] if connection.vendor == "postgresql" else []
    names = [name for name, _text in found]
    return [
        *(_("{rule} is missing", rule=name) for name in wanted if name not in names),
        *(_("{rule} is not part of Meniscus", rule=name) for name in names if name not in wanted),
        *(_("{rule} was altered", rule=name) for name, text in found if wanted.get(name, text) != text),
        *ways_round,
        *_changed_definitions(using),
        *_other_migrations(using),
    ]


def _changed_definitions(using: str) -> list[str]:
    return [
        _("{table} lacks {definition}", table=table, definition=line)
        if is_missing
        else _("{table} has {definition}, which is not part of Meniscus", table=table, definition=line)
        for table, line, is_missing in definitions.differences(using)
    ]


def _other_migrations(using: str) -> list[str]:
    return [
        _("the migration {name} is missing", name=name)
        if is_missing
        else _("the migration {name} is not part of Meniscus, or was recorded twice", name=name)
        for name, is_missing in definitions.other_migrations(using)
    ]


def _fingerprint(vendor: str, rule: Rule, path: str) -> str:
    """The whole of an installed rule as one text, as `_installed` reads it."""
    if vendor == "sqlite":
        return statements(vendor, rule)[0]
    trigger = statements(vendor, rule, path=path)[1]
    if " WHEN (" in trigger:
        trigger = trigger.replace(" WHEN (", " WHEN ((").replace(") EXECUTE", ")) EXECUTE")
    return "\n".join((trigger.casefold(), "plpgsql", rule.body, f'{{"search_path={path}"}}'))


def _installed_names(cursor: Any, vendor: str) -> list[tuple[str, str]]:
    if vendor == "sqlite":
        cursor.execute(
            "SELECT name, tbl_name FROM sqlite_master WHERE type = 'trigger' AND name LIKE %s", [f"{PREFIX}%"]
        )
    else:
        cursor.execute(
            "SELECT tgname, tgrelid::regclass::text FROM pg_trigger WHERE NOT tgisinternal AND tgname LIKE %s",
            [f"{PREFIX}%"],
        )
    return [(str(name), str(table)) for name, table in cursor.fetchall()]


def _installed(cursor: Any, vendor: str) -> list[tuple[str, str]]:
    """Every trigger there is, by whatever name and on whatever table, with the lines it was written in.

    Where a line ends is a part of the rule: a remark reaches up to there, and without that end takes in what follows.
    """
    if vendor == "sqlite":
        cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger' ORDER BY name")
        return [(name, sql.strip()) for name, sql in cursor.fetchall()]
    # A disabled trigger is as good as a missing one. The others must fire as they do by default.
    cursor.execute(
        "SELECT tgname, replace(pg_get_triggerdef(t.oid), ' ON ' || current_schema() || '.', ' ON '), lanname, prosrc, "
        "concat_ws(' ', CASE WHEN prosecdef THEN 'SECURITY DEFINER' END, proconfig::text, "
        # One that is called stable or immutable does not see what the statement that fired it has written.
        "CASE WHEN provolatile <> 'v' OR proisstrict THEN 'VOLATILITY ' || provolatile::text END, "
        "CASE WHEN tgenabled <> 'O' THEN 'ENABLE ' || tgenabled::text END) "
        "FROM pg_trigger t JOIN pg_proc p ON p.oid = tgfoid JOIN pg_language l ON l.oid = prolang "
        "JOIN pg_class c ON c.oid = tgrelid "
        "WHERE NOT tgisinternal AND tgenabled <> 'D' AND relnamespace = current_schema()::regnamespace "
        "ORDER BY tgname"
    )
    return [
        (name, "\n".join((trigger.casefold(), language, body.strip(), *([more] if more else []))))
        for name, trigger, language, body, more in cursor.fetchall()
    ]
