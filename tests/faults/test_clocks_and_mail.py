"""Clocks that are wrong, and mail that does not get through. `python -m tests.faults` runs the full rounds."""

from tests.faults import clock_jobs, clocks, mailing
from tests.faults.real_databases import RealDatabase


def test_a_wrong_clock_changes_neither_the_order_of_the_books_nor_lets_recorded_time_fall(
    real_database: RealDatabase,
) -> None:
    told = clocks.wrong_clocks(real_database, count=40, seed=1)
    assert set(told.posted) == set(clock_jobs.WRONG)
    assert told.refused.keys() == {"in 1970"}


def test_each_posting_stands_on_its_own_day_where_clocks_change_and_days_sum_to_months(
    real_database: RealDatabase,
) -> None:
    clocks.round_the_clock(real_database, step=360)


def test_alerts_wait_for_a_mail_server_that_is_away_hangs_refuses_or_hangs_up(
    real_database: RealDatabase,
) -> None:
    mailing.servers_that_fail(real_database)


def test_no_alert_is_lost_and_repeats_bear_one_name_when_the_mailing_is_killed(
    real_database: RealDatabase,
) -> None:
    mailing.kill_while_mailing(real_database, kills=8, seed=1)


def test_runs_at_one_moment_mail_each_alert_once(real_database: RealDatabase) -> None:
    mailing.mailing_at_once(real_database, rounds=2, runs=3)
