"""What people do about an alert: acknowledge it, snooze it until a day, have it shown again."""

from datetime import date, timedelta

from inventory.alerts.models import Alert, AlertEvent, AlertHappening, AlertState
from inventory.errors import AlertCleared
from studio.errors import InputError
from studio.submission import Submission, transaction
from studio.translation import _

MOST_SNOOZED_DAYS = 366


def acknowledge(*, alert: Alert, submission: Submission) -> Alert:
    """Say that somebody has seen an alert: it stays quiet until its cause is gone. Raises AlertCleared.

    A second time changes nothing.
    """
    with transaction(submission):
        alert = _standing(alert)
        if alert.acknowledged_at is None:
            alert.acknowledged_at = submission.at
            alert.snoozed_until = None
            alert.save(update_fields=["acknowledged_at", "snoozed_until"])
            _note(alert, AlertHappening.ACKNOWLEDGED, submission)
    return alert


def snooze(*, alert: Alert, until: date, submission: Submission) -> Alert:
    """Keep an alert quiet until a day, on which it is shown and mailed again. Raises InputError, AlertCleared."""
    latest = submission.today + timedelta(days=MOST_SNOOZED_DAYS)
    if not submission.today < until <= latest:
        raise InputError(_("Choose a day after today, within a year."), field="until")
    with transaction(submission):
        alert = _standing(alert)
        if alert.snoozed_until != until or alert.acknowledged_at is not None:
            alert.snoozed_until, alert.acknowledged_at = until, None
            alert.save(update_fields=["acknowledged_at", "snoozed_until"])
            _note(alert, AlertHappening.SNOOZED, submission, until=until)
    return alert


def show_again(*, alert: Alert, submission: Submission) -> Alert:
    """Take back that an alert was acknowledged or snoozed. Raises AlertCleared; a second time changes nothing."""
    with transaction(submission):
        alert = _standing(alert)
        if alert.state_on(submission.today) in (AlertState.ACKNOWLEDGED, AlertState.SNOOZED):
            alert.acknowledged_at = alert.snoozed_until = None
            alert.save(update_fields=["acknowledged_at", "snoozed_until"])
            _note(alert, AlertHappening.REOPENED, submission)
    return alert


def _standing(alert: Alert) -> Alert:
    """The alert, locked. Raises AlertCleared when its cause is gone."""
    locked = Alert.objects.select_for_update(of=("self",)).get(pk=alert.pk)
    if locked.cleared_at is not None:
        raise AlertCleared(_("This alert has cleared already: there is nothing left to do."))
    return locked


def _note(alert: Alert, what: AlertHappening, submission: Submission, *, until: date | None = None) -> None:
    AlertEvent.objects.create(alert=alert, what=what, at=submission.at, by=submission.by, until=until)
