"""The least that posting a session could take: the same rows, in hand-written SQL through the bare driver."""

import hashlib
import json
import sqlite3
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from django.db import connection

from inventory.ledger.models import Posting

# Table, the column that says which session's rows, and the columns that name the rows written before it.
TABLES = {
    "inventory_session": {"posting_id": "posting"},
    "inventory_lot": {},
    "inventory_mix": {"session_id": "inventory_session", "lot_id": "inventory_lot", "posting_id": "posting"},
    "inventory_pour": {"session_id": "inventory_session"},
    "inventory_entry": {
        "posting_id": "posting",
        "lot_id": "inventory_lot",
        "mix_id": "inventory_mix",
        "pour_id": "inventory_pour",
    },
}


@dataclass
class Rows:
    """What one session wrote into one table: columns without the id, values, and the ids that they had."""

    columns: list[str]
    values: list[list[Any]]
    ids: list[int]


class ByHand:
    """Writes a posted session again and again, with fresh numbers, as fast as the database lets it."""

    def __init__(self, posting: Posting) -> None:
        self.is_sqlite = connection.vendor == "sqlite"
        self.mark = "?" if self.is_sqlite else "%s"
        self.bare = self._connect()
        mixes = posting.session.mixes.values_list("lot_id", flat=True)
        of = {
            "inventory_session": f"posting_id = {posting.number}",
            "inventory_lot": f"id IN ({', '.join(map(str, mixes)) or 'NULL'})",
            "inventory_mix": f"posting_id = {posting.number}",
            "inventory_pour": f"session_id = {posting.session.pk}",
            "inventory_entry": f"posting_id = {posting.number}",
        }
        self.rows = {table: self._read(table, where) for table, where in of.items()}
        self.posting = self._read("inventory_posting", f"number = {posting.number}", key="number")

    def post(self) -> None:
        """One transaction: lock the head, insert what stands beside, the entries, and the posting over them."""
        execute = self.bare.execute
        execute("BEGIN IMMEDIATE" if self.is_sqlite else "BEGIN")
        lock = "" if self.is_sqlite else " FOR UPDATE"
        head = f"SELECT last_number, last_hash, last_recorded_at FROM inventory_books WHERE id = 1{lock}"
        number, link, recorded_at = execute(head).fetchone()
        fresh: dict[str, dict[int, int]] = {"posting": {self.posting.ids[0]: number + 1}}
        for table, names in TABLES.items():
            self._insert(table, names, fresh, execute)
        key = f"by hand {number + 1}"
        seal = hashlib.sha256(f"{link}{key}".encode()).hexdigest()
        confirmed = json.dumps([])  # read as JSON, written as text
        told = {
            "confirmed": confirmed,
            "key": key,
            "previous_hash": link,
            "hash": seal,
            "recorded_at": recorded_at,
        }
        values = [
            told.get(name, value)
            for name, value in zip(self.posting.columns, self.posting.values[0], strict=True)
        ]
        columns = ", ".join(["number", *self.posting.columns])
        marks = ", ".join([self.mark] * (len(values) + 1))
        execute(f"INSERT INTO inventory_posting ({columns}) VALUES ({marks})", [number + 1, *values])
        execute("COMMIT")

    def close(self) -> None:
        self.bare.close()

    def _insert(
        self, table: str, names: dict[str, str], fresh: dict[str, dict[int, int]], execute: Callable[..., Any]
    ) -> None:
        rows = self.rows[table]
        if not rows.values:
            return
        places = [(rows.columns.index(column), fresh[source]) for column, source in names.items()]
        values: list[Any] = []
        for row in rows.values:
            new = list(row)
            for place, ids in places:
                new[place] = ids.get(row[place], row[place])
            # PostgreSQL reads what it keeps as JSON into dicts, and takes text for them.
            values += [json.dumps(value) if isinstance(value, dict | list) else value for value in new]
        marks = ", ".join([f"({', '.join([self.mark] * len(rows.columns))})"] * len(rows.values))
        statement = f"INSERT INTO {table} ({', '.join(rows.columns)}) VALUES {marks}"
        if table == "inventory_entry":
            execute(statement, values)
        else:
            made = execute(f"{statement} RETURNING id", values).fetchall()
            fresh[table] = dict(zip(rows.ids, (one for (one,) in made), strict=True))

    def _read(self, table: str, where: str, key: str = "id") -> Rows:
        cursor = self.bare.execute(f"SELECT * FROM {table} WHERE {where} ORDER BY {key}")
        columns = [column[0] for column in cursor.description]
        own = columns.index(key)
        found: Sequence[Sequence[Any]] = cursor.fetchall()
        values = [[value for place, value in enumerate(row) if place != own] for row in found]
        return Rows([name for name in columns if name != key], values, [row[own] for row in found])

    def _connect(self) -> Any:
        """A connection of the driver's own, as careful with commits as Django's."""
        if self.is_sqlite:
            bare = sqlite3.connect(connection.settings_dict["NAME"], isolation_level=None, timeout=20)
            for pragma in ("synchronous = FULL", "recursive_triggers = ON", "foreign_keys = ON"):
                bare.execute(f"PRAGMA {pragma}")
            return bare
        import psycopg

        params = connection.get_connection_params()
        names = ("host", "port", "user", "password", "dbname")
        return psycopg.connect(**{name: params[name] for name in names if name in params}, autocommit=True)
