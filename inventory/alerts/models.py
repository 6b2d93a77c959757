"""Alerts and their history, the digest emails on their way out, and each person's calendar address."""

from collections.abc import Collection
from datetime import date
from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy, pgettext_lazy

from inventory.alerts.kinds import kind_of
from inventory.materials.models import Material
from studio.auditing.recording import Virtual, audited
from studio.constraints import called, one_of
from studio.preferences.formatting import Formatter
from studio.translation import _


class AlertState(models.TextChoices):
    """What has become of an alert."""

    OPEN = "open", gettext_lazy("Open")
    ACKNOWLEDGED = "acknowledged", gettext_lazy("Acknowledged")
    SNOOZED = "snoozed", gettext_lazy("Snoozed")
    ORDERED = "ordered", gettext_lazy("Ordered")
    CLEARED = "cleared", gettext_lazy("Cleared")


class AlertQuerySet(models.QuerySet["Alert"]):
    def standing(self) -> Self:
        """Alerts whose cause stands, whatever has been done about it."""
        return self.filter(cleared_at__isnull=True)

    def waiting(self, on: date) -> Self:
        """Alerts that ask for something on a day: not ordered, not acknowledged, not snoozed beyond it."""
        return self.filter(in_state(AlertState.OPEN, on))

    def without(self, kinds: Collection[str]) -> Self:
        """Leave out these kinds."""
        return self.exclude(kind__in=kinds) if kinds else self


def in_state(state: str, on: date) -> Q:
    """Alerts in one state on a day; each is in one. A snooze ends on its day."""
    if state == AlertState.CLEARED:
        return Q(cleared_at__isnull=False)
    if state == AlertState.ORDERED:
        return Q(cleared_at__isnull=True, ordered_at__isnull=False)
    if state == AlertState.ACKNOWLEDGED:
        return Q(cleared_at__isnull=True, ordered_at__isnull=True, acknowledged_at__isnull=False)
    rest = Q(cleared_at__isnull=True, ordered_at__isnull=True, acknowledged_at__isnull=True)
    snoozed = Q(snoozed_until__gt=on)
    return rest & snoozed if state == AlertState.SNOOZED else rest & ~snoozed


class Alert(models.Model):
    """Something needs attention. At most one stands for a cause; it clears when the cause is gone.

    `cause` names what it is about within its kind, such as a material's number. `figures` are its reason in whole
    numbers and names, put into words in the language of whoever reads it. What was done about it is also kept as
    events, which nobody changes.
    """

    State = AlertState

    kind = models.CharField(max_length=24)
    cause = models.CharField(max_length=60)
    material = models.ForeignKey(
        Material, on_delete=models.SET_NULL, null=True, blank=True, related_name="alerts"
    )
    since = models.DateField(help_text=gettext_lazy("The day from which the reason has held."))
    figures = models.JSONField(default=dict)
    raised_at = models.DateTimeField()
    acknowledged_at = models.DateTimeField(null=True, blank=True)
    snoozed_until = models.DateField(null=True, blank=True)
    ordered_at = models.DateTimeField(null=True, blank=True)
    cleared_at = models.DateTimeField(null=True, blank=True)

    objects = AlertQuerySet.as_manager()

    class Meta:
        ordering = ["-raised_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["kind", "cause"], condition=Q(cleared_at__isnull=True), name="alert_one_open"
            ),
            models.CheckConstraint(condition=~Q(kind="") & ~Q(cause=""), name="alert_named"),
        ]

    def __str__(self) -> str:
        return _("Alert {number}", number=self.pk)

    def state_on(self, day: date) -> AlertState:
        """What has become of it by a day."""
        if self.cleared_at is not None:
            return AlertState.CLEARED
        if self.ordered_at is not None:
            return AlertState.ORDERED
        if self.acknowledged_at is not None:
            return AlertState.ACKNOWLEDGED
        is_snoozed = self.snoozed_until is not None and self.snoozed_until > day
        return AlertState.SNOOZED if is_snoozed else AlertState.OPEN


class AlertHappening(models.TextChoices):
    RAISED = "raised", gettext_lazy("Raised")
    ACKNOWLEDGED = "acknowledged", gettext_lazy("Acknowledged")
    SNOOZED = "snoozed", gettext_lazy("Snoozed")
    REOPENED = "reopened", gettext_lazy("Shown again")
    ORDERED = "ordered", gettext_lazy("Ordered")
    CLEARED = "cleared", gettext_lazy("Cleared")


BY_PEOPLE = (AlertHappening.ACKNOWLEDGED, AlertHappening.SNOOZED)


class AlertEvent(models.Model):
    """What happened to an alert: kept, and never changed."""

    What = AlertHappening

    alert = models.ForeignKey(Alert, on_delete=models.PROTECT, related_name="events")
    what = models.CharField(max_length=12, choices=AlertHappening.choices)
    at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    until = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            one_of("alertevent", "what", AlertHappening.values),
            models.CheckConstraint(
                condition=Q(what="snoozed", until__isnull=False)
                | (~Q(what="snoozed") & Q(until__isnull=True)),
                name="alertevent_snooze_has_its_day",
            ),
            models.CheckConstraint(
                condition=~Q(what__in=[each.value for each in BY_PEOPLE]) | Q(by__isnull=False),
                name="alertevent_by_somebody",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.alert_id}: {self.what}"


class AlertCheck(models.Model):
    """A day on which every kind of alert was looked at, and when that was last done."""

    day = models.DateField(unique=True)
    at = models.DateTimeField()

    class Meta:
        ordering = ["-day"]

    def __str__(self) -> str:
        return str(self.day)


class Digest(models.Model):
    """One day's email to one address, written before it is sent: what a mail server that is away cannot lose.

    A run claims it before it sends it. A claim whose run died is taken over, under the same Message-ID, so that a
    reader's mail program can tell a repeat.
    """

    day = models.DateField()
    address = models.EmailField()
    message_id = models.CharField(max_length=320, unique=True)
    subject = models.CharField(max_length=200)
    text = models.TextField()
    html = models.TextField()
    alerts = models.ManyToManyField(Alert, related_name="digests", db_table="inventory_digest_alerts")
    written_at = models.DateTimeField()
    claimed_at = models.DateTimeField(null=True, blank=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    problem = models.CharField(
        max_length=300, blank=True, help_text=gettext_lazy("What went wrong the last time.")
    )

    class Meta:
        ordering = ["day", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["day", "address"], name="digest_once_a_day"),
            models.CheckConstraint(condition=~Q(address=""), name="digest_addressed"),
        ]

    def __str__(self) -> str:
        return f"{self.day} {self.address}"


def _kinds_in_words(codes: str, _formatter: Formatter) -> str:
    """Kinds of alert as people call them; one that is no longer known by its code."""
    found = [(code, kind_of(code)) for code in codes.split(",")]
    return ", ".join(str(kind.label) if kind else code for code, kind in found)


@audited(
    without=["muted"],
    virtual={"muted": Virtual(pgettext_lazy("column", "left out of the email"), _kinds_in_words)},
)
@called(
    pgettext_lazy("table", "alert emails"),
    person=pgettext_lazy("column", "person"),
    wants_digest=pgettext_lazy("column", "daily email"),
    muted=pgettext_lazy("column", "left out of the email"),
)
class DigestChoice(models.Model):
    """What one person wants to be told of by email. Without one, owners get everything and nobody else anything."""

    person = models.OneToOneField(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, primary_key=True, related_name="digest_choice"
    )
    wants_digest = models.BooleanField(default=True)
    muted = models.CharField(max_length=400, blank=True, help_text=gettext_lazy("Kinds of alert, by comma."))

    def __str__(self) -> str:
        return str(self.person)

    @property
    def muted_kinds(self) -> list[str]:
        return [kind for kind in self.muted.split(",") if kind]


class CalendarFeed(models.Model):
    """A person's calendar address. `name` stays, and with it what events are called; renewing changes the `seed`.

    The address's secret is worked out from the seed and the server's own key, so that a copy of the database alone
    opens no calendar.
    """

    person = models.OneToOneField(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="calendar_feed"
    )
    name = models.CharField(max_length=40, unique=True)
    seed = models.CharField(max_length=64)
    is_on = models.BooleanField(default=True)
    renewed_at = models.DateTimeField()

    def __str__(self) -> str:
        return str(self.person)
