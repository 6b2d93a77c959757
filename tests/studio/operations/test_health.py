"""Health: alive, ready, and a start that refuses books whose rules or settings are not safe."""

from collections.abc import Iterator
from typing import Any

import pytest
from django.core.exceptions import ImproperlyConfigured
from django.db import connection, connections
from django.db.migrations.recorder import MigrationRecorder
from django.db.utils import OperationalError
from django.test import Client

from inventory.ledger import database_rules
from studio.accounts.models import User
from studio.operations.checks import database_keeps_its_word, refuse_unsafe_books
from studio.operations.health import last_book_check, record_book_check
from tests.days import AT, DAY


@pytest.fixture
def checked(db: None) -> None:
    record_book_check(ok=True, at=AT)


def test_alive_needs_no_database_and_no_login(client: Client) -> None:
    # Without the db fixture, any query would fail this test.
    answer = client.get("/health/live")
    assert (answer.status_code, answer.json()) == (200, {"status": "ok"})


def test_ready_when_everything_holds(checked: None, client: Client) -> None:
    answer = client.get("/health/ready")
    assert (answer.status_code, answer.json()) == (200, {"status": "ready"})
    assert answer.headers["Cache-Control"] == "private, no-store"


def refused(client: Client) -> dict[str, bool]:
    """Ask as a stranger, who learns nothing but no, and then as the owner; the parts that the owner is told."""
    stranger = Client().get("/health/ready")
    assert (stranger.status_code, stranger.json()) == (503, {"status": "not ready"})
    answer = client.get("/health/ready")
    assert answer.status_code == 503
    parts: dict[str, bool] = answer.json()["parts"]
    return {part: holds for part, holds in parts.items() if not holds}


def test_not_ready_before_the_books_were_ever_checked(owner: User, client: Client) -> None:
    client.force_login(owner)
    assert refused(client) == {"books": False}


def test_not_ready_once_a_check_of_the_books_has_failed(checked: None, owner: User, client: Client) -> None:
    client.force_login(owner)
    record_book_check(ok=False, at=AT + DAY, note="a lot is below zero")
    assert refused(client) == {"books": False}
    record_book_check(ok=True, at=AT + 2 * DAY)
    assert client.get("/health/ready").status_code == 200
    check = last_book_check()
    assert check is not None
    assert check.checked_at == AT + 2 * DAY


def test_not_ready_while_a_ledger_rule_is_missing(checked: None, owner: User, client: Client) -> None:
    client.force_login(owner)
    with connection.cursor() as cursor:
        on_table = "" if connection.vendor == "sqlite" else " ON inventory_entry"
        cursor.execute(f"DROP TRIGGER meniscus_entry_no_delete{on_table}")
    assert refused(client) == {"rules": False}
    with pytest.raises(ImproperlyConfigured, match="meniscus_entry_no_delete is missing"):
        refuse_unsafe_books()
    database_rules.install()
    refuse_unsafe_books()


def test_not_ready_while_a_migration_is_missing(checked: None, owner: User, client: Client) -> None:
    client.force_login(owner)
    recorder = MigrationRecorder(connection)
    newest = max(name for app, name in recorder.applied_migrations() if app == "studio")
    recorder.record_unapplied("studio", newest)
    assert refused(client) == {"migrations": False, "rules": False}


def test_not_ready_and_nothing_told_when_the_database_does_not_answer(
    db: None, client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    def unreachable(*args: Any, **kwargs: Any) -> None:
        raise OperationalError("could not connect to 192.0.2.5 as meniscus")

    with monkeypatch.context() as patch:
        patch.setattr(connections["default"], "cursor", unreachable)
        answer = client.get("/health/ready")
    assert (answer.status_code, answer.json()) == (503, {"status": "not ready"})


def test_only_reading_is_answered(client: Client) -> None:
    assert client.post("/health/live").status_code == 405
    assert client.post("/health/ready").status_code == 405


def test_a_helper_is_told_no_more_than_a_stranger(helper: User, client: Client) -> None:
    client.force_login(helper)
    assert client.get("/health/ready").json() == {"status": "not ready"}


# Settings of the database


@pytest.fixture
def unsafe(db: None) -> Iterator[None]:
    """The database's own switch for losing what it has acknowledged, thrown for this connection."""
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("PRAGMA recursive_triggers=OFF")
        else:
            cursor.execute("SET synchronous_commit = off")
        yield
        if connection.vendor == "sqlite":
            cursor.execute("PRAGMA recursive_triggers=ON")
        else:
            cursor.execute("SET synchronous_commit = on")


def test_it_refuses_to_serve_a_database_that_may_lose_what_it_acknowledged(unsafe: None) -> None:
    """PostgreSQL manual, "Asynchronous Commit"; SQLite, PRAGMA recursive_triggers (REPLACE fires delete triggers)."""
    words = "recursive_triggers" if connection.vendor == "sqlite" else "synchronous_commit off"
    with pytest.raises(ImproperlyConfigured, match=words):
        refuse_unsafe_books()


def test_it_has_nothing_to_say_about_safe_settings(db: None) -> None:
    assert database_keeps_its_word(databases=["default"]) == []
    assert database_keeps_its_word(databases=None) == []
