"""What holds on a day, where each value holds until the next one does."""

from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from studio.values.dated import Held, held_on
from tests.days import DAY, TODAY

DAYS = st.integers(-20, 20).map(lambda days: TODAY + timedelta(days=days))


def test_a_value_holds_from_its_own_day_until_the_day_before_the_next() -> None:
    changes = [(None, 10), (TODAY, 12), (TODAY + 5 * DAY, 15)]
    assert held_on(TODAY - DAY, changes) == Held(10, None)
    assert held_on(TODAY, changes) == Held(12, TODAY)
    assert held_on(TODAY + 4 * DAY, changes) == Held(12, TODAY)
    assert held_on(TODAY + 5 * DAY, changes) == Held(15, TODAY + 5 * DAY)


def test_nothing_holds_before_the_first_day() -> None:
    assert held_on(TODAY - DAY, [(TODAY, 12)]) is None
    assert held_on(TODAY, []) is None


def test_what_is_missing_stays_as_it_was_before_and_zero_is_a_value() -> None:
    assert held_on(TODAY, [(None, 10), (TODAY, None)]) == Held(10, None)
    assert held_on(TODAY, [(None, 10), (TODAY, 0)]) == Held(0, TODAY)


@given(
    day=DAYS, changes=st.dictionaries(st.none() | DAYS, st.none() | st.integers(0, 9)), chance=st.randoms()
)
def test_it_is_what_a_diary_kept_day_by_day_would_say(
    day: date, changes: dict[date | None, int | None], chance: object
) -> None:
    """A plain reading of the same: begin with the beginning, then turn the pages up to the day."""
    held = None if changes.get(None) is None else Held(changes[None] or 0, None)
    page = TODAY - 20 * DAY
    while page <= day:
        if changes.get(page) is not None:
            held = Held(changes[page] or 0, page)
        page += DAY
    listed = list(changes.items())
    chance.shuffle(listed)  # type: ignore[attr-defined]
    assert held_on(day, listed) == held
