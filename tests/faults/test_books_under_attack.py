"""Long random histories, tampering, backups under load and restores that die. Small rounds."""

import pytest

from tests.faults import backups_under_load, swaps, tampering, wrong_logic
from tests.faults.real_databases import RealDatabase


@pytest.mark.parametrize("seed", [0, 1])
def test_a_long_random_history_agrees_with_a_plain_second_set_of_books(
    real_database: RealDatabase, seed: int
) -> None:
    wrong_logic.random_history(real_database, seed=seed, operations=100)


def test_no_way_round_python_changes_what_was_posted(real_database: RealDatabase) -> None:
    tampering.every_way_round(real_database)


def test_a_bit_turned_over_in_the_file_is_found(real_database: RealDatabase) -> None:
    if not real_database.is_sqlite:
        pytest.skip("PostgreSQL's files are its server's.")
    tampering.edited_files(real_database, count=6, seed=1)


def test_a_backup_made_under_load_is_restored_as_the_books_were_at_one_moment(
    real_database: RealDatabase,
) -> None:
    restores = backups_under_load.back_up_under_load(real_database, rounds=2, writers=2, seed=1)
    assert restores.restored == 2


def test_a_restore_killed_at_any_step_of_its_swap_leaves_the_old_books_or_the_new_ones(
    real_database: RealDatabase,
) -> None:
    swaps.swaps_that_die(real_database)
