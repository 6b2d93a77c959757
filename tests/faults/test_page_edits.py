"""Two saves of one row at the same moment. Small rounds; `python -m tests.faults` runs the full ones."""

from tests.faults import page_edits
from tests.faults.real_databases import RealDatabase


def test_of_two_who_save_the_same_row_at_once_one_is_refused_and_told(real_database: RealDatabase) -> None:
    page_edits.raced_edits(real_database, rounds=3)


def test_owners_who_change_each_other_at_once_do_not_wait_in_a_circle(real_database: RealDatabase) -> None:
    page_edits.owners_who_change_each_other(real_database, rounds=5)
