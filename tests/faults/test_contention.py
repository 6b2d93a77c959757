"""Many writers at once. Small rounds; `python -m tests.faults` runs the full ones and reports the worst wait."""

from tests.faults import contention, double_clicks, raced_codes, raced_keys, three_tills, two_hosts
from tests.faults.real_databases import RealDatabase


def test_eight_writers_on_the_same_lots_all_get_through_and_the_balances_are_exact(
    real_database: RealDatabase,
) -> None:
    contention.many_writers(real_database, writers=8, requests=8)


def test_a_lot_that_everybody_wants_gives_exactly_what_it_holds(real_database: RealDatabase) -> None:
    contention.never_oversold(real_database, takers=8, takes=10, held=30)


def test_a_form_sent_many_times_at_once_posts_once_and_everybody_gets_that_answer(
    real_database: RealDatabase,
) -> None:
    contention.double_sends(real_database, keys=4, racers=8)


def test_what_is_sent_again_and_again_through_a_web_server_posts_once_and_other_contents_are_refused(
    real_database: RealDatabase,
) -> None:
    """By forms and by a program's requests in turn."""
    double_clicks.double_clicks(real_database, keys=4, racers=6)


def test_a_posting_taken_back_by_two_people_at_once_is_taken_back_once(real_database: RealDatabase) -> None:
    contention.raced_reversals(real_database, postings=8)


def test_a_piece_sold_by_two_people_at_once_is_sold_once(real_database: RealDatabase) -> None:
    contention.raced_sales(real_database, pieces=8)


def test_a_piece_sold_at_once_by_its_page_at_the_stall_and_by_a_program_is_sold_once(
    real_database: RealDatabase,
) -> None:
    three_tills.three_tills(real_database, pieces=4)


def test_a_key_that_is_sent_by_many_at_once_answers_201_once_and_200_to_everybody_else(
    real_database: RealDatabase,
) -> None:
    raced_keys.raced_keys(real_database, keys=6, racers=6)


def test_of_ten_browsers_that_race_one_sign_in_code_one_is_let_in_and_nobody_waits_in_a_circle(
    real_database: RealDatabase,
) -> None:
    raced_codes.raced_codes(real_database, rounds=3)


def test_two_web_servers_on_one_database_answer_as_one(real_database: RealDatabase) -> None:
    two_hosts.two_hosts(real_database, keys=4, racers=6, photos=2)
