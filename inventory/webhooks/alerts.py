"""A webhook that was stopped, because its address did not take what was sent."""

from collections.abc import Iterator

from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy

from inventory.alerts.kinds import Cause, Figures, Kind, Look, Rule
from inventory.webhooks.models import Webhook
from studio.preferences.formatting import Formatter
from studio.translation import _


def _stopped_in_words(figures: Figures, formatter: Formatter) -> str:
    return _("It was switched off after {n} messages in turn could not be delivered.", n=figures["failures"])


WEBHOOK_STOPPED = Kind(
    "webhook_stopped",
    gettext_lazy("Webhook switched off"),
    gettext_lazy("The address of a webhook did not take its messages."),
    _stopped_in_words,
    lambda key: reverse("inventory:webhook", args=[int(key)]),
    urgency=95,
    badge="note",
)


def stopped(look: Look) -> Iterator[Cause]:
    """Webhooks that were switched off by themselves."""
    for hook in Webhook.objects.filter(is_on=False, stopped_at__isnull=False):
        figures = {"name": hook.host, "failures": hook.failures}
        since = timezone.localtime(hook.stopped_at).date()
        yield Cause(WEBHOOK_STOPPED.code, str(hook.pk), since, figures)


RULE = Rule((WEBHOOK_STOPPED,), stopped, rechecked=True)
