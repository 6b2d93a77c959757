"""The ledger's rules as the database itself keeps them: triggers on SQLite and PostgreSQL.

Entries are inserted first, the posting that seals them last. The seal refuses an unbalanced posting, a gap in
the numbers, a broken chain or a reversal that does not mirror; then it brings the balances and the ledger's
head up to date. So a half posting cannot exist, and nobody but the database writes a balance. The rules are
installed after every migration, and a system check compares what is installed with what stands here.
"""

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from django.db import connections, transaction

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
    return tuple(_rule(*block.split("\n", 1)) for block in blocks)


def _rule(heading: str, body: str) -> Rule:
    name, table, when = (part.strip() for part in heading.split("|"))
    return Rule(name, table, when, body.strip())


def statements(vendor: str, rule: Rule) -> list[str]:
    """The SQL that installs one rule."""
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
        f"CREATE OR REPLACE FUNCTION {rule.trigger}() RETURNS trigger LANGUAGE plpgsql AS $rule$\n{rule.body}\n$rule$",
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
        for rule in rules(connection.vendor):
            for statement in statements(connection.vendor, rule):
                cursor.execute(statement)


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
    """Name every rule that is missing, altered or unknown.

    An empty list means that the rules are in place.
    """
    connection = connections[using]
    wanted = {rule.trigger: _fingerprint(connection.vendor, rule) for rule in rules(connection.vendor)}
    with connection.cursor() as cursor:
        present = _installed(cursor, connection.vendor)
    missing = [_("{rule} is missing", rule=name) for name in wanted if name not in present]
    unknown = [_("{rule} is not part of Meniscus", rule=name) for name in present if name not in wanted]
    altered = [
        _("{rule} was altered", rule=name)
        for name in wanted
        if name in present and present[name] != wanted[name]
    ]
    return missing + unknown + altered


def _fingerprint(vendor: str, rule: Rule) -> str:
    return _squeeze(statements(vendor, rule)[0] if vendor == "sqlite" else rule.body)


def _squeeze(sql: str) -> str:
    return " ".join(sql.split())


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


def _installed(cursor: Any, vendor: str) -> dict[str, str]:
    if vendor == "sqlite":
        cursor.execute(
            "SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND name LIKE %s", [f"{PREFIX}%"]
        )
        return {name: _squeeze(sql) for name, sql in cursor.fetchall()}
    # A disabled trigger is as good as a missing one, so only enabled ones count.
    cursor.execute(
        "SELECT t.tgname, p.prosrc FROM pg_trigger t JOIN pg_proc p ON p.oid = t.tgfoid "
        "WHERE NOT t.tgisinternal AND t.tgenabled <> 'D' AND t.tgname LIKE %s",
        [f"{PREFIX}%"],
    )
    return {name: _squeeze(body) for name, body in cursor.fetchall()}
