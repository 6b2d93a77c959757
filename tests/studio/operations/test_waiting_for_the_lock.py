"""Who waits for the write lock of SQLite holds nobody up, least of all whoever has it."""

import gc
import sqlite3
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.db import OperationalError, connection

from studio.operations.sqlite_engine import turns
from studio.operations.sqlite_engine.base import DatabaseWrapper

pytestmark = pytest.mark.skipif(
    connection.vendor != "sqlite", reason="PostgreSQL locks rows, not the database"
)


def opened(file: Path, patience: float = 20.0) -> Any:
    options = {**settings.DATABASES["default"]["OPTIONS"], "timeout": patience}
    own = DatabaseWrapper(
        {**connection.settings_dict, "NAME": str(file), "OPTIONS": options}, alias="default"
    )
    own.inc_thread_sharing()
    own.connect()
    return own


@pytest.fixture
def two(db: None, tmp_path: Path) -> Iterator[tuple[Any, Any]]:
    """Two connections to one database, which holds one row."""
    one, other = opened(tmp_path / "books.sqlite3"), opened(tmp_path / "books.sqlite3")
    with one.cursor() as cursor:
        cursor.execute("CREATE TABLE pot (litres INTEGER)")
        cursor.execute("INSERT INTO pot VALUES (1)")
    yield one, other
    for own in (one, other):
        own.connection.close()


def write(own: Any) -> None:
    with own.cursor() as cursor:
        cursor.execute("UPDATE pot SET litres = litres + 1")


def test_whoever_has_the_lock_can_close_a_cursor_of_whoever_waits_for_it(two: tuple[Any, Any]) -> None:
    one, other = two
    forgotten = [
        other.connection.execute("SELECT litres FROM pot")
    ]  # in a cycle of garbage, the collector closes it
    one._start_transaction_under_autocommit()
    write_of_other = threading.Thread(target=write, args=[other])
    write_of_other.start()
    time.sleep(0.3)  # it waits by now, outside any transaction
    began = time.monotonic()
    forgotten.clear()
    took = time.monotonic() - began
    one.connection.commit()
    write_of_other.join()
    assert took < 5
    assert other.connection.execute("SELECT litres FROM pot").fetchone() == (2,)


def test_waiting_for_the_lock_leaves_no_cursor_to_the_garbage_collector(
    tmp_path: Path, two: tuple[Any, Any]
) -> None:
    one, _other = two
    hasty = opened(tmp_path / "books.sqlite3", patience=0.2)
    one._start_transaction_under_autocommit()
    gc.collect()
    gc.disable()
    try:
        before = sum(issubclass(type(each), sqlite3.Cursor) for each in gc.get_objects())
        with pytest.raises(OperationalError, match="locked"):
            hasty._start_transaction_under_autocommit()
        left = sum(issubclass(type(each), sqlite3.Cursor) for each in gc.get_objects()) - before
    finally:
        gc.enable()
        one.connection.rollback()
        hasty.connection.close()
    assert left == 0


def test_a_write_outside_any_transaction_waits_for_its_turn(two: tuple[Any, Any]) -> None:
    one, other = two
    one._start_transaction_under_autocommit()
    write_of_other = threading.Thread(target=write, args=[other])
    write_of_other.start()
    one.connection.execute("UPDATE pot SET litres = 40")
    one.connection.commit()
    write_of_other.join()
    assert one.connection.execute("SELECT litres FROM pot").fetchone() == (41,)


def test_patience_ends_with_an_error_and_nothing_written(tmp_path: Path, two: tuple[Any, Any]) -> None:
    one, _other = two
    hasty = opened(tmp_path / "books.sqlite3", patience=0.1)
    one._start_transaction_under_autocommit()
    with pytest.raises(OperationalError, match="locked"):
        write(hasty)
    one.connection.rollback()
    assert hasty.connection.execute("SELECT litres FROM pot").fetchone() == (1,)
    hasty.connection.close()


def test_whoever_has_waited_too_long_goes_before_whoever_has_just_written(two: tuple[Any, Any]) -> None:
    """The lock is free for microseconds between one transaction and the next: nobody who sleeps would meet that."""
    greedy, patient = two
    has_had_it, taken_meanwhile = threading.Event(), 0

    def wait_for_it() -> None:
        patient.settings_dict["OPTIONS"]["timeout"] = 0.1 / turns.TOO_LONG  # too long comes soon
        patient._start_transaction_under_autocommit()
        has_had_it.set()
        patient.connection.commit()

    greedy._start_transaction_under_autocommit()
    waiting = threading.Thread(target=wait_for_it)
    waiting.start()
    time.sleep(0.2)  # it is next by now
    while not has_had_it.is_set() and taken_meanwhile < 100:
        greedy.connection.commit()
        greedy._start_transaction_under_autocommit()
        taken_meanwhile += 1
        time.sleep(0.005)  # its work
    greedy.connection.commit()
    waiting.join()
    assert taken_meanwhile <= 2
