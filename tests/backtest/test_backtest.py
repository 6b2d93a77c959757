"""The back-test runs, on a few materials; what it measures is nobody's test, how it measures is."""

import pytest

from inventory.reordering.calculations.lead_times import exactly
from tests.backtest import families, playing
from tests.backtest.__main__ import main
from tests.backtest.families import Case, drawn_world
from tests.backtest.playing import Prepared, play
from tests.backtest.rules import History


def test_it_prints_a_line_for_every_kind_of_use(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(playing, "WEEK", 120)
    monkeypatch.setattr(playing, "TUNING_STEPS", 1)
    monkeypatch.setattr(families, "DRAWS", 1)
    main(["--seeds", "1", "--each", "1", "--new", "1"])
    printed = capsys.readouterr().out
    for name in ("smooth", "lumpy sessions", "two seasons", "all but new", "new in the last", "immune sera"):
        assert name in printed


def test_the_same_seed_draws_the_same_world() -> None:
    assert drawn_world(5, each=1, new=1) == drawn_world(5, each=1, new=1) != drawn_world(6, each=1, new=1)


@pytest.mark.parametrize(("level", "in_time"), [(50, 9), (29, 0)])
def test_a_delivery_is_in_time_when_nothing_is_owed_just_before_it(
    monkeypatch: pytest.MonkeyPatch, level: int, in_time: int
) -> None:
    """Ten used a day, deliveries of 100 after three days: ordered at 30 or 20 left, 0 or -10 before they come."""
    monkeypatch.setattr(playing, "TEST_FROM", 0)
    monkeypatch.setattr(playing, "DAYS_ORDERED_FOR", 0)
    case = Case("daily", [10] * 101, 0, 0, 100, 1, [[3] * 99])
    history = History(case.values, 0)
    weeks = range(0, 101, playing.WEEK)
    prepared = Prepared(case, exactly(3), [history.at_end_of(day) for day in weeks])
    outcome = play(prepared, [level] * len(weeks))
    assert outcome.deliveries >= 9
    assert (outcome.in_time == outcome.deliveries) == bool(in_time)


def test_what_comes_later_is_not_known_on_a_day() -> None:
    history = History([0, 0, 5, 0, 7, 9], first_day=1)
    assert history.at_end_of(4).series.values() == [0, 5, 0, 7]
    assert history.at_end_of(4).a_day == 3
