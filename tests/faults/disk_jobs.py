"""Jobs that look at the disk, or run into its end. They run in worker processes, as those of `jobs` do."""

import os
import random
import resource
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from django.db import OperationalError, connection, transaction

from inventory.ledger.models import Books, Posting
from inventory.sessions.actions.sessions import log_session
from studio.accounts.models import User
from tests.faults.jobs import PLENTY, Meet, Say, Scene, session_facts, stock_shelf
from tests.inventory.invariants import assert_books_hold
from tests.making import make_submission

# PostgreSQL's server cannot be given a small disk from here. So a trigger answers with the server's own error, by the
# same state (53100, disk_full), at the row for which there is no more room. Sequences count on whatever is undone.
SMALL_DISK = """
CREATE SEQUENCE IF NOT EXISTS rows_written;
CREATE OR REPLACE FUNCTION small_disk() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF nextval('rows_written') > current_setting('small_disk.rows')::bigint THEN
        RAISE EXCEPTION 'the disk is full' USING ERRCODE = '53100';
    END IF;
    RETURN NEW;
END $$;
"""


@contextmanager
def limited_disk() -> Iterator[None]:
    """Make it possible to `allow` this database only so much; afterwards it has its own rules alone again."""
    if connection.vendor == "sqlite":
        yield
        return
    with connection.cursor() as cursor:
        cursor.execute(SMALL_DISK)
        for table in ("entry", "posting", "lot", "session", "pour", "mix"):
            cursor.execute(
                f"CREATE OR REPLACE TRIGGER small_disk BEFORE INSERT ON inventory_{table} "
                "FOR EACH ROW EXECUTE FUNCTION small_disk()"
            )
    yield
    with connection.cursor() as cursor:
        cursor.execute("DROP FUNCTION small_disk() CASCADE")


def allow(little: int) -> None:
    """Give the database room for a little more: so many pages of a file, or a few rows."""
    if connection.vendor == "sqlite":
        _allow_pages(_pragma("page_count") + little)
    else:
        with connection.cursor() as cursor:
            used = _first(cursor, "SELECT nextval('rows_written')")
            cursor.execute("SELECT set_config('small_disk.rows', %s, false)", [str(used + 5 * little)])


def allow_everything() -> None:
    if connection.vendor == "sqlite":
        _allow_pages(10**9)
    else:
        with connection.cursor() as cursor:
            cursor.execute("SELECT set_config('small_disk.rows', %s, false)", [str(10**15)])


def post_on_a_full_disk(*, scene: Scene, failures: int, seed: int, say: Say, meet: Meet) -> list[str]:
    """Allow the database a little more, post until that is used up, then give it room again and post on."""
    owner, facts = scene.of(User, scene.owner), session_facts(scene)
    chance, turn = random.Random(seed), 0
    errors: list[str] = []
    with limited_disk():
        while len(errors) < failures:
            allow(chance.randrange(8))
            try:
                while True:
                    log_session(facts=facts, submission=make_submission(by=owner, key=f"turn {turn}"))
                    turn += 1
            except OperationalError as error:
                errors.append(str(error))
            assert Posting.objects.exclude(key="").count() == turn
            assert_books_hold()
            allow_everything()
            log_session(facts=facts, submission=make_submission(by=owner, key=f"turn {turn}"))
            turn += 1
    return errors


def post_until_files_are_full(
    *, scene: Scene, name: str, start: int, room: int, say: Say, meet: Meet
) -> tuple[list[tuple[str, int]], str]:
    """Post until no file of this process may grow beyond what the database has now and a little room."""
    owner, facts = scene.of(User, scene.owner), session_facts(scene)
    said: list[tuple[str, int]] = []
    files = Path(connection.settings_dict["NAME"]).parent.iterdir()
    limit = max(file.stat().st_size for file in files) + room
    resource.setrlimit(resource.RLIMIT_FSIZE, (limit, resource.RLIM_INFINITY))
    try:
        while True:
            key = f"{name}-{start + len(said)}"
            said.append(
                (key, log_session(facts=facts, submission=make_submission(by=owner, key=key)).posting_id)
            )
    except OperationalError as error:
        assert set(Posting.objects.exclude(key="").values_list("key", "number")) >= set(said)
        return said, str(error)


def settings_of_the_connection(*, say: Say, meet: Meet) -> dict[str, Any]:
    """What the database itself says about the connection that Django opens."""
    if connection.vendor == "postgresql":
        shown = ("synchronous_commit", "fsync", "full_page_writes")
        with connection.cursor() as cursor:
            return {name: _first(cursor, f"SHOW {name}") for name in shown}
    pragmas = ("journal_mode", "synchronous", "recursive_triggers", "foreign_keys", "busy_timeout")
    return {name: _pragma(name) for name in pragmas}


def a_second_writer(*, say: Say, meet: Meet) -> str:
    """Open a transaction that has only read so far, and try to write beside it."""
    with transaction.atomic():
        Books.objects.get()
        beside = sqlite3.connect(connection.settings_dict["NAME"], timeout=0)
        try:
            beside.execute("BEGIN IMMEDIATE")
        except sqlite3.OperationalError as error:
            return str(error)
        finally:
            beside.close()
    return "let in"


def post(*, scene: Scene, name: str, count: int, say: Say, meet: Meet) -> None:
    """Post so many sessions, one after the other."""
    owner, facts = scene.of(User, scene.owner), session_facts(scene)
    for turn in range(count):
        log_session(facts=facts, submission=make_submission(by=owner, key=f"{name}-{turn}"))


def post_with_marks(*, count: int, say: Say, meet: Meet) -> None:
    """Post so many sessions, asking for the parent's process number before each: a mark to be seen in a trace."""
    scene = stock_shelf(paint_in_lots=[PLENTY], say=say, meet=meet)
    owner, facts = scene.of(User, scene.owner), session_facts(scene)
    for _ in range(count):
        os.getppid()
        log_session(facts=facts, submission=make_submission(by=owner))
    os.getppid()
    _pragma("synchronous = NORMAL")
    for _ in range(count):
        os.getppid()
        log_session(facts=facts, submission=make_submission(by=owner))
    os.getppid()


def _pragma(words: str) -> Any:
    with connection.cursor() as cursor:
        return _first(cursor, f"PRAGMA {words}")


def _first(cursor: Any, statement: str) -> Any:
    cursor.execute(statement)
    row = cursor.fetchone()
    return row[0] if row else None


def _allow_pages(pages: int) -> None:
    _pragma(f"max_page_count = {pages}")
