"""Addresses that are told what happens, and the messages to them: an outbox first, and then their log."""

from urllib.parse import SplitResult, urlsplit

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Q
from django.utils.crypto import salted_hmac
from django.utils.translation import gettext_lazy, pgettext_lazy

from inventory.webhooks.events import event_named
from inventory.webhooks.sending import is_public
from studio.auditing.recording import audited
from studio.constraints import called
from studio.translation import _

SALT = "meniscus.webhook"


@audited(only=["address", "events", "with_money", "is_on"])
@called(
    pgettext_lazy("table", "webhook"),
    address=pgettext_lazy("column", "address"),
    events=pgettext_lazy("column", "events"),
    with_money=pgettext_lazy("column", "with costs and prices"),
    is_on=pgettext_lazy("column", "on"),
)
class Webhook(models.Model):
    """An address that is told of events. Nothing is sent before its secret was made.

    The key is worked out from the seed and the server's own key, so that a copy of the database alone signs nothing.
    """

    address = models.URLField(max_length=300)
    events = models.CharField(max_length=200, help_text=gettext_lazy("Names of events, by comma."))
    with_money = models.BooleanField(default=False)
    is_on = models.BooleanField(default=True)
    seed = models.CharField(max_length=64, blank=True, editable=False)
    failures = models.PositiveIntegerField(
        default=0,
        editable=False,
        help_text=gettext_lazy("How often in turn a message could not be delivered."),
    )
    stopped_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=~Q(address="") & ~Q(events=""), name="webhook_addressed")
        ]

    def __str__(self) -> str:
        return self.host

    @property
    def host(self) -> str:
        return urlsplit(self.address).hostname or self.address

    @property
    def key(self) -> bytes:
        return salted_hmac(SALT, self.seed, algorithm="sha256").digest()

    @property
    def event_names(self) -> list[str]:
        return self.events.split(",")

    def clean(self) -> None:
        """Raises ValidationError, naming what is wrong with it."""
        try:
            parts = urlsplit(self.address)
        except ValueError:  # such as https://[::1: the field's own check says that it is no address
            return
        if parts.scheme != "https" and not (settings.WEBHOOKS_LOCAL and parts.scheme == "http"):
            raise ValidationError({"address": _("Use an address that begins with https://.")})
        if parts.username or parts.password or parts.fragment:
            raise ValidationError({"address": _("Leave out names, passwords and anything after a #.")})
        if not _is_reachable(parts):
            advice = _("Use an address on the Internet: this one is inside a network, or its port is none.")
            raise ValidationError({"address": advice})
        if Webhook.objects.filter(address=self.address).exclude(pk=self.pk).exists():
            raise ValidationError({"address": _("This address is told already. Change its webhook instead.")})
        if not self.events or any(event_named(name) is None for name in self.event_names):
            raise ValidationError({"events": _("Choose at least one event.")})


def _is_reachable(parts: SplitResult) -> bool:
    """Whether an address may be sent to, as far as it says so itself; what a name stands for is asked when sending."""
    try:
        if parts.port == 0:
            return False
    except ValueError:
        return False
    try:
        return settings.WEBHOOKS_LOCAL or is_public(parts.hostname or "")
    except ValueError:  # a name, as is usual
        return True


class WebhookMessage(models.Model):
    """One event told to one address: written with what happened, sent after it, kept as the log.

    `body` is composed when it is first sent, and stays. A run claims a message before it sends it; a claim whose run
    died is taken over, under the same id, by which a receiver can tell a repeat.
    """

    webhook = models.ForeignKey(Webhook, on_delete=models.CASCADE, related_name="messages")
    event = models.CharField(max_length=40)
    subject = models.BigIntegerField(help_text=gettext_lazy("The key of the row that it tells of."))
    message_id = models.CharField(max_length=60, unique=True)
    body = models.TextField(blank=True)
    written_at = models.DateTimeField()
    due_at = models.DateTimeField(db_index=True)
    claimed_at = models.DateTimeField(null=True, blank=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    status = models.PositiveSmallIntegerField(null=True, blank=True)
    problem = models.CharField(max_length=200, blank=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    given_up_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.UniqueConstraint(fields=["webhook", "event", "subject"], name="webhookmessage_once")
        ]

    def __str__(self) -> str:
        return self.message_id
