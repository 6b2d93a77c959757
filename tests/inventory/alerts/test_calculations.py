"""When a price has jumped, and email goes out: the arithmetic alone."""

from datetime import date

import pytest

from inventory.alerts.calculations import Paid, is_quiet, next_mailing_day, price_jump

FIFTH = 200_000


def paid(*prices: int) -> list[Paid]:
    """Deliveries of 100 mL each, at so many pence a mL."""
    return [Paid(price * 1_000_000, 100_000) for price in prices]


def test_the_usual_price_is_the_middle_one_of_the_deliveries_before_the_last() -> None:
    jump = price_jump(paid(10, 30, 11, 14), threshold=FIFTH)
    assert jump is not None
    # Middle of 10, 30, 11 is 11 (by hand): 14 is 3/11 = 27.2727 % more. 100 mL for 14 is 0.14 a mL.
    assert (jump.usual, jump.latest, jump.rise) == (110_000, 140_000, 272_727)


def test_with_two_before_the_last_the_usual_lies_between_them() -> None:
    jump = price_jump(paid(10, 12, 14), threshold=FIFTH)
    assert jump is not None
    assert (jump.usual, jump.rise) == (110_000, 272_727)


@pytest.mark.parametrize(
    ("prices", "why"),
    [
        ((10, 20), "one delivery before the last says nothing of what is usual"),
        ((10, 10, 12), "a fifth more exactly is not above the threshold"),
        ((10, 10, 5), "cheaper is no alarm"),
        ((10, 10, 20, 20, 20, 20), "the middle of what came before the last has become 20"),
        ((20, 20, 20, 20, 20, 10, 10, 20), "only the last five before it count"),
        ((), "nothing was ever bought"),
    ],
)
def test_no_jump(prices: tuple[int, ...], why: str) -> None:
    assert price_jump(paid(*prices), threshold=FIFTH) is None, why


def test_what_came_free_is_no_price() -> None:
    assert price_jump([Paid(0, 100_000), *paid(10, 20)], threshold=FIFTH) is None
    assert price_jump([*paid(10, 10, 20), Paid(0, 100_000)], threshold=FIFTH) is not None


def test_quiet_days_are_iso_weekdays() -> None:
    saturday = date(2025, 6, 14)  # ISO 8601: Monday is 1
    assert is_quiet(saturday, [6, 7])
    assert not is_quiet(saturday, [5, 7])
    assert next_mailing_day(date(2025, 6, 13), [6, 7]) == date(2025, 6, 16)
    assert next_mailing_day(saturday, range(1, 8)) == date(2025, 6, 15)
