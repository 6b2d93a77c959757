"""The database is full, or away: what the pages say, and what becomes of what was typed. Small rounds."""

import pytest

from tests.faults import large_logs, logs, out_of_reach
from tests.faults.real_databases import RealDatabase


def test_a_form_sent_to_a_full_disk_is_told_so_posts_nothing_and_keeps_what_was_typed(
    real_database: RealDatabase,
) -> None:
    out_of_reach.forms_on_a_full_disk(real_database, failures=2, seed=1)


def test_a_database_that_goes_away_is_told_of_in_words_and_taken_up_again_without_a_restart(
    real_database: RealDatabase,
) -> None:
    out_of_reach.database_goes_away(real_database, rounds=2)


def test_the_owner_is_told_of_a_log_that_does_not_stop_growing(real_database: RealDatabase) -> None:
    if not real_database.is_sqlite:
        pytest.skip("PostgreSQL looks after its own log.")
    large_logs.log_that_grows(real_database, limit=200_000)


def test_logs_in_json_are_one_object_a_line_and_hold_no_secret(real_database: RealDatabase) -> None:
    logs.json_logs(real_database)
