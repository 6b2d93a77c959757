"""Writers that die while they post, and a disk that is full. `python -m tests.faults` runs the full rounds."""

from pathlib import Path

import pytest
from django.db import connection

from tests.faults import crashes, disk_jobs, imports, leftover_logs, standbys, through_http, traced
from tests.faults.private_cluster import private_pair
from tests.faults.real_databases import RealDatabase, maker


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
def test_each_commit_is_flushed_to_disk(real_database: RealDatabase) -> None:
    """Beside it, as many commits with synchronous=NORMAL, which are not flushed, show that the count can tell."""
    if not real_database.is_sqlite:
        pytest.skip("On PostgreSQL it is the server that flushes.")
    assert traced.flushed_commits(real_database, count=10).commits == 10


def test_a_restore_is_not_ruined_by_a_log_that_lies_beside_the_file(real_database: RealDatabase) -> None:
    """Beside it, merely copying the file shows that the log would have ruined it."""
    if not real_database.is_sqlite:
        pytest.skip("PostgreSQL keeps its log inside its server.")
    found = leftover_logs.logs_left_behind(real_database, rounds=2)
    assert (found.restored, found.wrong, found.wrong_if_merely_copied) == (2, 0, 2)


@pytest.mark.skipif(connection.vendor == "sqlite", reason="SQLite has no standby.")
def test_a_standby_that_takes_over_has_everything_acknowledged_and_the_service_goes_on(
    tmp_path: Path,
) -> None:
    with private_pair() as pair:
        if pair is None:
            pytest.skip("PostgreSQL's own programs are not installed.")
        with maker(tmp_path, pair.url) as databases, databases.fresh() as database:
            found = standbys.standby_takes_over(pair, database, rounds=1, writers=2, seed=1)
    assert found.acknowledged >= 3
