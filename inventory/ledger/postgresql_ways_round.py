"""What keeps PostgreSQL from asking the ledger's rules, or lets it ask others, besides the rules themselves."""

from collections.abc import Iterator
from typing import Any

from studio.translation import _

# Each statement tells what should not be: one row a finding, the text of which names what was found.
FOREIGN_FUNCTIONS = r"""
    SELECT p.oid::regprocedure::text FROM pg_proc p
    WHERE pronamespace = current_schema()::regnamespace
    AND p.oid NOT IN (SELECT objid FROM pg_depend WHERE deptype = 'e')
    AND p.oid NOT IN (SELECT tgfoid FROM pg_trigger) AND proname NOT LIKE 'meniscus\_%%' ORDER BY 1
"""
FOREIGN_OPERATORS = """
    SELECT o.oid::regoperator::text FROM pg_operator o
    WHERE oprnamespace = current_schema()::regnamespace
    AND o.oid NOT IN (SELECT objid FROM pg_depend WHERE deptype = 'e') ORDER BY 1
"""
EVENT_TRIGGERS = """
    SELECT evtname FROM pg_event_trigger
    WHERE oid NOT IN (SELECT objid FROM pg_depend WHERE deptype = 'e') ORDER BY 1
"""
KEYS_OFF = """
    SELECT DISTINCT relname FROM pg_trigger JOIN pg_class c ON c.oid = tgrelid
    WHERE tgisinternal AND tgenabled <> 'O' AND relnamespace = current_schema()::regnamespace ORDER BY relname
"""
SETTINGS = """
    SELECT DISTINCT split_part(line, '=', 1) FROM pg_db_role_setting s
    LEFT JOIN pg_database d ON d.oid = setdatabase, unnest(setconfig) AS line
    WHERE (d.datname = current_database() OR setdatabase = 0)
    AND split_part(line, '=', 1) IN ('session_replication_role', 'search_path') ORDER BY 1
"""
TOO_MANY_RIGHTS = """
    SELECT c.relname FROM pg_class c WHERE c.oid = to_regclass(%s) AND NOT pg_has_role(c.relowner, 'USAGE')
    AND (has_any_column_privilege(c.oid, 'UPDATE') OR has_table_privilege(c.oid, 'DELETE, TRUNCATE, TRIGGER'))
"""


def found(cursor: Any) -> Iterator[str]:
    """Name every switch, function, operator and right that takes the rules' word from them."""
    cursor.execute("SHOW session_replication_role")
    role = cursor.fetchone()[0]
    if role != "origin":
        yield _("session_replication_role is {role}", role=role)
    for name in _names(cursor, SETTINGS):
        yield _("{name} is set for a role or the database", name=name)
    for name in _names(cursor, KEYS_OFF):
        yield _("the foreign keys of {table} are switched off", table=name)
    for query in (FOREIGN_FUNCTIONS, FOREIGN_OPERATORS, EVENT_TRIGGERS):
        for name in _names(cursor, query):
            yield _("{rule} is not part of Meniscus", rule=name)
    for table in ("inventory_posting", "inventory_entry"):
        for name in _names(cursor, TOO_MANY_RIGHTS, table):
            yield _("the service may change or delete rows of {table}", table=name)


def _names(cursor: Any, query: str, *values: str) -> list[str]:
    cursor.execute(query, values)
    return [str(name) for (name,) in cursor.fetchall()]
