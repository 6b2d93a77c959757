"""Writers that die while they post, and a disk that is full. `python -m tests.faults` runs the full rounds."""

from pathlib import Path

import pytest

from tests.faults import crashes, disk_jobs, imports, through_http, traced
from tests.faults.real_databases import RealDatabase


def test_it_keeps_every_acknowledged_posting_whole_when_the_writers_are_killed(
    real_database: RealDatabase,
) -> None:
    losses = crashes.kill_writers(real_database, rounds=6, writers=2, seed=1)
    assert losses.crashes == 12
    assert losses.acknowledged >= 6


def test_it_keeps_what_it_answered_through_http_when_web_workers_are_killed(
    real_database: RealDatabase,
) -> None:
    """Each program repeats a request that was not answered, under the same key: it must not post twice."""
    losses = through_http.kill_web_workers(real_database, kills=3, clients=3, seed=1)
    assert losses.acknowledged >= losses.crashes == 3


def test_a_full_database_leaves_nothing_half_written_and_writes_resume(real_database: RealDatabase) -> None:
    crashes.fill_the_disk(real_database, failures=8, seed=1)


def test_an_import_that_dies_half_way_brings_in_all_of_a_file_or_nothing_and_once(
    real_database: RealDatabase,
) -> None:
    imports.imports_that_die(real_database, deaths=2, seed=1)


def test_files_that_may_grow_no_further_leave_nothing_half_written_and_writes_resume(
    real_database: RealDatabase,
) -> None:
    if not real_database.is_sqlite:
        pytest.skip("On PostgreSQL it is the server that writes the files.")
    errors = crashes.stop_writing_files(real_database, failures=4, seed=1)
    assert all("disk" in error for error in errors)


def test_every_connection_is_set_to_lose_nothing(real_database: RealDatabase) -> None:
    """SQLite's own numbering: synchronous 2 is FULL, which flushes the log at every commit (sqlite.org/pragma.html)."""
    found = real_database.do(disk_jobs.settings_of_the_connection)
    if real_database.is_sqlite:
        assert found == {
            "journal_mode": "wal",
            "synchronous": 2,
            "recursive_triggers": 1,
            "foreign_keys": 1,
            "busy_timeout": 0,  # the engine itself waits, outside of SQLite
        }
    else:
        assert found == {"synchronous_commit": "on", "fsync": "on", "full_page_writes": "on"}


def test_a_transaction_keeps_other_writers_out_from_its_first_read_on(real_database: RealDatabase) -> None:
    if not real_database.is_sqlite:
        pytest.skip("PostgreSQL locks the ledger's head row instead.")
    assert real_database.do(disk_jobs.a_second_writer) == "database is locked"


@pytest.mark.skipif(traced.strace is None, reason="Counting flushes needs strace.")
def test_each_commit_is_flushed_to_disk(real_database: RealDatabase, tmp_path: Path) -> None:
    """The second figure shows that the count can tell: with synchronous=NORMAL a commit is not flushed."""
    if not real_database.is_sqlite:
        pytest.skip("On PostgreSQL it is the server that flushes.")
    full, normal = traced.flushes_per_commit(real_database, count=10, trace=tmp_path / "trace")
    assert len(full) == len(normal) == 10
    assert min(full) >= 1
    assert sum(normal) < 10
