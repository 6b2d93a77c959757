"""Whoever changes a rule or a table behind our back is found out, whatever the name and however the change looks."""

import re
from collections.abc import Callable
from dataclasses import replace

import pytest
from django.core.management import call_command
from django.core.management.base import SystemCheckError
from django.db import connection, transaction

from inventory.ledger import database_rules
from inventory.ledger.verification import check
from tests.inventory.forging import SQLITE, run

pytestmark = pytest.mark.django_db
NOTHING = "BEGIN RETURN NULL; END"
ENTRY_RULE = "meniscus_entry_no_update"


def edit_table(table: str, old: str, new: str) -> None:
    """Edit a table's own text, as anybody can who opens the file."""
    run("PRAGMA writable_schema = ON")
    with connection.cursor() as cursor:
        cursor.execute(
            "UPDATE sqlite_master SET sql = replace(sql, %s, %s) WHERE type = 'table' AND name = %s",
            [old, new, table],
        )
    run("PRAGMA writable_schema = OFF")


def remade(how: str) -> Callable[[], None]:
    """The same rule once more under its own name, but so that it never or seldom fires."""

    def change() -> None:
        run(f"DROP TRIGGER {ENTRY_RULE} ON inventory_entry")
        run(f"CREATE TRIGGER {ENTRY_RULE} {how} EXECUTE FUNCTION {ENTRY_RULE}()")

    return change


def rule_behind_its_remark() -> None:
    """The same words on other lines, so that the statement after a remark is now a part of the remark."""
    [seal] = [rule for rule in database_rules.rules(connection.vendor) if rule.name == "posting_seal"]
    before, remark, after = seal.body.partition("-- What a correction corrects")
    statement, end, rest = after.partition(";\n" if connection.vendor == SQLITE else "END IF;\n")
    hidden = re.sub(r"\s+", " ", statement)
    silent = replace(seal, body=f"{before}{remark}{hidden}{end}{rest}")
    if connection.vendor == SQLITE:
        run(f"DROP TRIGGER {seal.trigger}")
    with connection.cursor() as cursor:  # without parameters: the rule divides by %
        cursor.execute(
            database_rules.statements(connection.vendor, silent, path="pg_catalog, public, pg_temp")[0]
        )


def extra_trigger() -> None:
    run(f"CREATE FUNCTION tidy() RETURNS trigger LANGUAGE plpgsql AS $${NOTHING}$$")
    run("CREATE TRIGGER a_tidy BEFORE INSERT ON inventory_lot FOR EACH ROW EXECUTE FUNCTION tidy()")


def another_check() -> None:
    run("ALTER TABLE inventory_entry DROP CONSTRAINT entry_quantity_whole")
    run("ALTER TABLE inventory_entry ADD CONSTRAINT entry_quantity_whole CHECK (true)")


def operator_laid_over() -> None:
    """An exact match of types is taken before the built-in one, wherever it stands on the path."""
    run("CREATE FUNCTION neq(varchar, varchar) RETURNS boolean LANGUAGE sql AS 'SELECT false'")
    run("CREATE OPERATOR <> (LEFTARG = varchar, RIGHTARG = varchar, FUNCTION = neq)")


def event_trigger() -> None:
    run("CREATE FUNCTION pg_temp.seen() RETURNS event_trigger LANGUAGE plpgsql AS $$BEGIN END$$")
    run("CREATE EVENT TRIGGER seen ON ddl_command_end EXECUTE FUNCTION pg_temp.seen()")


def too_many_rights() -> None:
    run("CREATE ROLE meniscus_tried")
    run("GRANT SELECT, INSERT, UPDATE ON ALL TABLES IN SCHEMA public TO meniscus_tried")
    run("SET LOCAL ROLE meniscus_tried")


ON_POSTGRESQL: dict[str, Callable[[], None]] = {
    "replica trigger": lambda: run(f"ALTER TABLE inventory_entry ENABLE REPLICA TRIGGER {ENTRY_RULE}"),
    "always trigger": lambda: run(f"ALTER TABLE inventory_entry ENABLE ALWAYS TRIGGER {ENTRY_RULE}"),
    "never fires": remade("BEFORE UPDATE ON inventory_entry FOR EACH ROW WHEN (false)"),
    "for one column": remade("BEFORE UPDATE OF role ON inventory_entry FOR EACH ROW"),
    "once a statement": remade("BEFORE UPDATE ON inventory_entry FOR EACH STATEMENT"),
    "role of the session": lambda: run("SET LOCAL session_replication_role = 'replica'"),
    "line behind a remark": rule_behind_its_remark,
    "function that sees no writes": lambda: run(f"ALTER FUNCTION {ENTRY_RULE}() STABLE"),
    "extra trigger": extra_trigger,
    "rewritten": lambda: run("CREATE RULE quiet AS ON INSERT TO inventory_lot DO INSTEAD NOTHING"),
    "row security": lambda: run("ALTER TABLE inventory_entry ENABLE ROW LEVEL SECURITY"),
    "another check": another_check,
    "no foreign keys": lambda: run("ALTER TABLE inventory_lot DISABLE TRIGGER ALL"),
    "settings of the function": lambda: run(f"ALTER FUNCTION {ENTRY_RULE}() SET search_path = pg_temp"),
    "operator": operator_laid_over,
    "function": lambda: run("CREATE FUNCTION repeat(text, int) RETURNS text LANGUAGE sql AS $$SELECT ''$$"),
    "event trigger": event_trigger,
    "path of a role": lambda: run("ALTER ROLE CURRENT_USER SET search_path = other, public"),
    "rights": too_many_rights,
    "no unique key": lambda: run("DROP INDEX posting_key_once"),
    "another collation": lambda: run('ALTER TABLE inventory_material ALTER name TYPE varchar(120) COLLATE "C"'),
    "null allowed": lambda: run("ALTER TABLE inventory_posting ALTER hash DROP NOT NULL"),
}  # fmt: skip
ON_SQLITE: dict[str, Callable[[], None]] = {
    "line behind a remark": rule_behind_its_remark,
    "extra trigger": lambda: run("CREATE TRIGGER tidy AFTER INSERT ON inventory_lot BEGIN SELECT 1; END"),
    "check edited": lambda: edit_table("inventory_entry", "9000000000000000", "9900000000000000"),
    "check gone": lambda: edit_table("inventory_lotbalance", 'CONSTRAINT "', '-- "'),
    "unique index dropped": lambda: run("DROP INDEX posting_key_once"),
    "another collation": lambda: edit_table(
        "inventory_material", '"name" varchar(120)', '"name" varchar(120) COLLATE NOCASE'
    ),
    "index of other columns": lambda: run("CREATE UNIQUE INDEX one_only ON inventory_lot (material_id)"),
}  # fmt: skip
A_MIGRATION = "INSERT INTO django_migrations (app, name, applied) VALUES ('studio', '%s', '2026-01-01')"
ON_BOTH: dict[str, Callable[[], None]] = {
    "a migration too many": lambda: run(A_MIGRATION % "0002_of_somebody"),
    "a migration twice": lambda: run(A_MIGRATION % "0001_initial"),
    "a migration taken out": lambda: run("DELETE FROM django_migrations WHERE app = 'studio'"),
    "a migration renamed": lambda: run("UPDATE django_migrations SET name = '0002' WHERE app = 'costing'"),
    "a column more in the list of migrations": lambda: run("ALTER TABLE django_migrations ADD by text"),
}
CHANGES = ON_BOTH | ON_SQLITE if connection.vendor == SQLITE else ON_BOTH | ON_POSTGRESQL


def test_nothing_is_found_where_nothing_was_changed() -> None:
    assert database_rules.differences() == []


@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES)
def test_every_change_is_found_by_a_check_of_the_books_and_at_the_start(change: Callable[[], None]) -> None:
    connection.check_constraints()
    with transaction.atomic():
        change()
        found = database_rules.differences()
        rules = {rule.rule: rule.broken for rule in check().rules}
        with pytest.raises(SystemCheckError):
            call_command("check", "--tag", "database", databases=["default"])
        transaction.set_rollback(True)
    assert found
    assert rules["rules"] == len(found)
    assert database_rules.differences() == []
