"""Books out of reach: which errors mean that, and what people and programs are told. In earnest: tests/faults."""

import errno
import json
import logging
import os
import sqlite3
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import DatabaseError, IntegrityError, InternalError, OperationalError
from django.http import HttpRequest, HttpResponse
from django.test import Client
from django.urls import include, path
from pytest_django import DjangoCaptureOnCommitCallbacks

from inventory.alerts.actions import refreshing
from inventory.ledger.models import Posting
from studio.backups import postgresql as backup_postgresql
from studio.operations.database_guard import Gone, InUse
from studio.operations.outages import WithoutTrace, reason
from tests import making
from tests.days import TODAY


class RequestSerializer(Exception):
    """What a database's driver raises, with the state that the server gave it."""

    def __init__(self, sqlstate: str | None = None) -> None:
        super().__init__("the server's own words about 192.0.2.5")
        self.sqlstate = sqlstate


def of_sqlite(code: int | None) -> Any:
    cause = sqlite3.OperationalError("the library's own words")
    if code is not None:
        cause.sqlite_errorcode = code
    return caused(OperationalError("wrapped"), cause)


def caused(problem: Any, cause: BaseException | None) -> Any:
    problem.__cause__ = cause
    return problem


@pytest.mark.parametrize(
    ("problem", "title"),
    [
        (of_sqlite(sqlite3.SQLITE_FULL), "The disk is full"),
        (of_sqlite(sqlite3.SQLITE_BUSY), "Busy, please try again"),
        (of_sqlite(sqlite3.SQLITE_BUSY_SNAPSHOT), "Busy, please try again"),
        (of_sqlite(sqlite3.SQLITE_IOERR_WRITE), "Database unavailable"),
        (caused(DatabaseError("x"), of_sqlite(sqlite3.SQLITE_NOTADB).__cause__), "Database unavailable"),
        (caused(OperationalError("x"), RequestSerializer("53100")), "The disk is full"),
        (caused(OperationalError("x"), RequestSerializer("40P01")), "Busy, please try again"),
        (caused(OperationalError("x"), RequestSerializer("57P01")), "Database unavailable"),
        (caused(OperationalError("x"), RequestSerializer()), "Database unavailable"),
        (OSError(errno.ENOSPC, "no room for a photo"), "The disk is full"),
        (InUse("A backup is being restored."), "Temporarily unavailable"),
        (Gone("The file is gone."), "Temporarily unavailable"),
    ],
)
def test_it_knows_a_full_disk_a_busy_database_and_one_that_is_away(problem: Exception, title: str) -> None:
    found = reason(problem)
    assert found is not None
    assert found.title == title
    assert "192.0.2.5" not in found.detail


@pytest.mark.parametrize(
    "problem",
    [
        of_sqlite(sqlite3.SQLITE_ERROR),  # "no such table": a fault of ours
        of_sqlite(None),
        caused(IntegrityError("x"), RequestSerializer("23505")),
        caused(InternalError("x"), RequestSerializer("25P02")),
        InternalError("a promise of our own broken"),
        OSError(errno.ENOENT, "no such file"),
        RuntimeError("a fault of ours"),
        None,
    ],
)
def test_a_fault_of_ours_is_not_taken_for_a_full_disk(problem: Exception | None) -> None:
    assert reason(problem) is None


def full(request: HttpRequest) -> HttpResponse:
    raise of_sqlite(sqlite3.SQLITE_FULL)


def faulty(request: HttpRequest) -> HttpResponse:
    raise RuntimeError("a fault of ours")


urlpatterns = [
    path("full/", full),
    path("api/full/", full),
    path("api/faulty/", faulty),
    path("", include("studio.urls")),
]
handler500 = "studio.api.plain_problems.failed"
on_a_full_disk = pytest.mark.urls(__name__)


@pytest.fixture
def browser(db: None) -> Client:
    client = Client(raise_request_exception=False)
    client.force_login(making.make_owner())
    return client


@on_a_full_disk
def test_a_page_that_was_only_looked_at_says_what_is_wrong_and_offers_to_try_again(browser: Client) -> None:
    answer = browser.get("/full/?month=6")
    page = answer.content.decode()
    assert (answer.status_code, answer.headers["Retry-After"]) == (507, "30")
    assert "There is no space left" in page
    assert "Nothing was saved" not in page
    assert 'href="/full/?month=6"' in page
    assert answer.headers["Cache-Control"] == "private, no-store"


@on_a_full_disk
def test_a_fault_of_ours_is_told_to_programs_as_a_problem(browser: Client) -> None:
    answer = browser.post("/api/faulty/")
    assert (answer.status_code, answer.headers["Content-Type"]) == (500, "application/problem+json")
    assert "completely or not at all" in answer.json()["detail"]


@on_a_full_disk
def test_what_was_typed_comes_back_to_be_sent_again_as_it_was(browser: Client) -> None:
    page = browser.post(
        "/full/", {"note": 'it\'s "gone" <b>', "key": "f" * 32, "pour": ["1", "2"]}
    ).content.decode()
    assert "Nothing was saved." in page
    assert '<input type="hidden" name="note" value="it&#x27;s &quot;gone&quot; &lt;b&gt;">' in page
    assert page.count('name="pour"') == 2
    assert "Sending again will not create duplicates." in page
    assert 'method="post" action="/full/"' in page


@on_a_full_disk
@pytest.mark.parametrize(
    "fields",
    [
        {"username": "keeper", "password": "seven herons"},
        {"new_password1": "seven herons", "new_password2": "seven herons"},
        {"note": "x", "photo": SimpleUploadedFile("seven herons.jpg", b"x")},
        {"note": "seven herons " * 20_000},
    ],
)
def test_passwords_files_and_very_long_entries_are_not_written_into_the_page(
    browser: Client, fields: dict[str, Any]
) -> None:
    page = browser.post("/full/", fields).content.decode()
    assert "seven herons" not in page
    assert "Go back in your browser to find your entries" in page


@on_a_full_disk
def test_a_program_is_told_in_json(browser: Client) -> None:
    answer = browser.post("/api/full/", {})
    assert answer.status_code == 507
    assert answer.json()["detail"].startswith("The disk is full. There is no space left")
    assert answer.json()["detail"].endswith("Nothing was saved.")


def test_the_log_tells_it_in_one_line(caplog: pytest.LogCaptureFixture) -> None:
    problem = of_sqlite(sqlite3.SQLITE_FULL)
    facts = (type(problem), problem, None)
    record = logging.LogRecord("django.request", logging.ERROR, "x.py", 1, "Full", (), facts)
    assert WithoutTrace().filter(record)
    assert record.exc_info is None
    ours = logging.LogRecord("x", logging.ERROR, "x.py", 1, "Bug", (), (KeyError, KeyError("x"), None))
    assert WithoutTrace().filter(ours)
    assert ours.exc_info is not None


def test_a_disk_that_fills_up_after_the_posting_does_not_unsay_it(
    browser: Client,
    monkeypatch: pytest.MonkeyPatch,
    django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks,
) -> None:
    def fills_up(**facts: Any) -> None:
        raise of_sqlite(sqlite3.SQLITE_FULL)

    lot = making.make_lot(on=TODAY)
    monkeypatch.setattr(refreshing, "refresh_alerts", fills_up)
    fields = {"quantity": "5 ml", "on": str(TODAY), "reason": making.the_reason().pk, "key": "a" * 32}
    with django_capture_on_commit_callbacks(execute=True) as callbacks:
        answer = browser.post(f"/lots/{lot.pk}/write-off/", fields)
    assert (len(callbacks), answer.status_code) == (1, 302)
    assert Posting.objects.filter(key="a" * 32).exists()


def test_a_service_makes_no_empty_file_where_its_books_should_be(tmp_path: Path) -> None:
    """An empty file in an empty folder is what a disk that is not mounted would leave behind."""
    books = tmp_path / "books.sqlite3"
    program = "import json, studio.wsgi; from django.test import Client\n"
    program += "client = Client(raise_request_exception=False, SERVER_NAME='localhost')\n"
    program += (
        "print(json.dumps([client.get(path).status_code for path in ('/health/ready', '/health/live')]))"
    )
    done = subprocess.run(
        [sys.executable, "-W", "ignore", "-c", program],
        env={**os.environ, "DATABASE_URL": f"sqlite:///{books}"},
        cwd=settings.BASE_DIR,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout) == [503, 200]
    assert not books.exists()
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("name", ["meniscus", "a" * 63, "é" * 31])
def test_databases_beside_the_live_one_never_bear_its_name_however_long_it_is(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """PostgreSQL manual, "Identifiers and Key Words": at most 63 bytes; the rest is cut off without an error."""
    monkeypatch.setattr(backup_postgresql, "_name", lambda: name)
    for ending in ("_restoring", "_proving", "_before_restore_20250610T143000_abcdefgh"):
        beside = backup_postgresql._beside(ending)
        assert beside.endswith(ending)
        assert len(beside.encode()) <= 63


def test_a_command_says_in_words_that_the_database_is_away() -> None:
    pytest.importorskip("psycopg")  # not among what README's test line installs
    away = os.environ | {"DATABASE_URL": "postgres://nobody@127.0.0.1:1/nothing"}
    command = [sys.executable, "manage.py", "check_books"]
    told = subprocess.run(
        command, env=away, cwd=settings.BASE_DIR, capture_output=True, text=True, check=False
    )
    assert told.returncode == 1
    assert told.stderr.startswith("Database unavailable. The database does not respond")
    assert "Traceback" not in told.stderr
    whole = subprocess.run(
        [*command, "--traceback"],
        env=away,
        cwd=settings.BASE_DIR,
        capture_output=True,
        text=True,
        check=False,
    )
    assert "Traceback" in whole.stderr
