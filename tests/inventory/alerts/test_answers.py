"""Acknowledged, snoozed, shown again: what people do about an alert, kept with their names."""

from collections.abc import Callable
from datetime import date

import pytest

from inventory.alerts.actions.answers import acknowledge, show_again, snooze
from inventory.alerts.models import Alert, AlertEvent, AlertState, in_state
from inventory.alerts.queries import open_alerts
from inventory.errors import AlertCleared
from studio.accounts.models import User
from studio.errors import InputError
from tests.days import AT, DAY, TODAY
from tests.inventory.alerts.looking import look, low_material
from tests.making import make_lot, make_submission, units

pytestmark = pytest.mark.django_db


@pytest.fixture
def alert() -> Alert:
    low_material()
    look()
    return Alert.objects.get()


def events() -> list[tuple[str, str | None, date | None]]:
    rows = AlertEvent.objects.order_by("pk").select_related("by")
    return [(event.what, event.by.username if event.by else None, event.until) for event in rows]


def test_an_acknowledged_alert_stays_quiet_until_it_has_cleared_and_comes_back(
    alert: Alert, helper: User
) -> None:
    acknowledge(alert=alert, submission=make_submission(by=helper))
    acknowledge(alert=alert, submission=make_submission(by=helper))
    assert not open_alerts(TODAY + 300 * DAY).exists()
    assert events() == [("raised", None, None), ("acknowledged", helper.username, None)]
    assert look() == ["to_reorder"]
    assert Alert.objects.get().acknowledged_at == AT


def test_a_snoozed_alert_is_back_on_its_day(alert: Alert, helper: User) -> None:
    until = TODAY + 7 * DAY
    snooze(alert=alert, until=until, submission=make_submission(by=helper))
    assert not open_alerts(until - DAY).exists()
    assert open_alerts(until).exists()
    assert Alert.objects.get().state_on(until - DAY) == AlertState.SNOOZED
    assert events()[-1] == ("snoozed", helper.username, until)


@pytest.mark.parametrize("days", [-1, 0, 367])
def test_a_snooze_ends_after_today_and_within_a_year(alert: Alert, days: int) -> None:
    with pytest.raises(InputError, match="after today, within a year") as refusal:
        snooze(alert=alert, until=TODAY + days * DAY, submission=make_submission())
    assert refusal.value.field == "until"
    assert len(events()) == 1


def test_it_can_be_shown_again_after_either(alert: Alert) -> None:
    quiet: list[Callable[[], Alert]] = [
        lambda: acknowledge(alert=alert, submission=make_submission()),
        lambda: snooze(alert=alert, until=TODAY + DAY, submission=make_submission()),
    ]
    for quieten in quiet:
        quieten()
        assert not open_alerts(TODAY).exists()
        show_again(alert=alert, submission=make_submission())
        show_again(alert=alert, submission=make_submission())
        assert open_alerts(TODAY).exists()
    assert [what for what, *_rest in events()] == [
        "raised", "acknowledged", "reopened", "snoozed", "reopened",
    ]  # fmt: skip


def test_one_of_both_holds(alert: Alert) -> None:
    acknowledge(alert=alert, submission=make_submission())
    snooze(alert=alert, until=TODAY + DAY, submission=make_submission())
    alert.refresh_from_db()
    assert (alert.acknowledged_at, alert.snoozed_until) == (None, TODAY + DAY)
    acknowledge(alert=alert, submission=make_submission())
    alert.refresh_from_db()
    assert (alert.acknowledged_at, alert.snoozed_until) == (AT, None)


def test_nothing_is_done_about_an_alert_that_has_cleared(alert: Alert) -> None:
    assert alert.material is not None
    make_lot(material=alert.material, quantity=units(1_000))
    look()
    answers: list[Callable[[], Alert]] = [
        lambda: acknowledge(alert=alert, submission=make_submission()),
        lambda: snooze(alert=alert, until=TODAY + DAY, submission=make_submission()),
        lambda: show_again(alert=alert, submission=make_submission()),
    ]
    for answer in answers:
        with pytest.raises(AlertCleared, match="cleared already"):
            answer()
    assert [what for what, *_rest in events()] == ["raised", "cleared"]


def test_each_alert_is_in_one_state() -> None:
    for _turn in range(5):
        low_material()
    look()
    one, two, three, four, _five = Alert.objects.order_by("pk")
    acknowledge(alert=one, submission=make_submission())
    snooze(alert=two, until=TODAY + DAY, submission=make_submission())
    Alert.objects.filter(pk=three.pk).update(ordered_at=AT, acknowledged_at=AT)
    Alert.objects.filter(pk=four.pk).update(cleared_at=AT, ordered_at=AT)
    for day in (TODAY, TODAY + DAY):
        for alert in Alert.objects.all():
            states = [
                state
                for state in AlertState
                if Alert.objects.filter(in_state(state, day), pk=alert.pk).exists()
            ]
            assert states == [alert.state_on(day)]
