"""Webhooks: what happened is written into the outbox with it, then claimed, sent and noted, one by one.

It is the way of the daily emails (`inventory/alerts/actions/outbox.py`): a run that dies, or a receiver that is away,
leaves its messages; the next run takes them over under the same id.
"""

import json
from collections.abc import Callable, Collection
from datetime import datetime, timedelta
from secrets import token_urlsafe
from typing import Any
from uuid import uuid4

from django.conf import settings
from django.db import transaction
from django.db.models import F, Model, Q

from inventory.alerts.actions.outbox import CLAIM_HOLDS, first_claimed
from inventory.webhooks import sending, signing
from inventory.webhooks.events import event_named
from inventory.webhooks.models import Webhook, WebhookMessage
from studio.auditing.writing import create_all, set_all
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio

SEED_BYTES = 24
FIRST_PAUSE, LONGEST_PAUSE = timedelta(minutes=5), timedelta(days=1)
MOST_ATTEMPTS = 8
FAILURES_UNTIL_STOPPED = 10
GONE = 410  # the receiver wants no more (Standard Webhooks; RFC 9110, section 15.5.11)


def when_added(event: str, *, clock: Callable[[], datetime]) -> Callable[..., None]:
    """A receiver of `post_save` that tells webhooks of each row that is added. Connect it with `weak=False`."""

    def write(sender: type[Model], instance: Model, created: bool, **kwargs: Any) -> None:
        if created and not kwargs["raw"]:
            write_messages(event, [instance.pk], at=clock())

    return write


def write_messages(event: str, subjects: Collection[int], *, at: datetime) -> None:
    """Put what happened into the outbox, in the transaction in which it happens: once for each address that listens."""
    listening = [
        hook for hook in Webhook.objects.filter(is_on=True).exclude(seed="") if event in hook.event_names
    ]
    if not listening:
        return
    told = set(
        WebhookMessage.objects.filter(event=event, subject__in=subjects).values_list("webhook", "subject")
    )
    create_all(
        WebhookMessage(
            webhook=hook,
            event=event,
            subject=subject,
            message_id=f"msg_{uuid4().hex}",
            written_at=at,
            due_at=at,
        )
        for hook in listening
        for subject in subjects
        if (hook.pk, subject) not in told
    )


def renew_secret(hook: Webhook) -> str:
    """Give a webhook a new secret, and return it: it is shown this once."""
    hook.seed = token_urlsafe(SEED_BYTES)
    hook.save(update_fields=["seed"])
    return signing.secret_in_words(hook.key)


def restart(hook: Webhook) -> None:
    """Forget what failed: it is told again."""
    hook.failures, hook.stopped_at = 0, None
    hook.save(update_fields=["failures", "stopped_at"])


def retry(message: WebhookMessage, *, at: datetime) -> None:
    """Send a message again with the next run, whatever became of it."""
    row = WebhookMessage.objects.filter(pk=message.pk)
    set_all(row, due_at=at, claimed_at=None, sent_at=None, given_up_at=None, attempts=0)


def claim(*, at: datetime) -> WebhookMessage | None:
    """Take on the message that has waited longest, so that no other run sends it; None without one."""
    waiting = WebhookMessage.objects.filter(
        Q(claimed_at__isnull=True) | Q(claimed_at__lte=at - CLAIM_HOLDS),
        sent_at__isnull=True,
        given_up_at__isnull=True,
        due_at__lte=at,
        webhook__is_on=True,
    )
    return first_claimed(waiting.select_related("webhook").order_by("due_at", "pk"), at=at)


def compose(message: WebhookMessage) -> str:
    """The body of a message, worked out once; nothing where there is nothing to tell."""
    if message.body:
        return message.body
    event = event_named(message.event)
    formatter = Formatter.of(Studio.current())
    data = event.data(message.subject, message.webhook.with_money, formatter) if event else None
    if data is None:
        return ""
    whole = {"type": message.event, "timestamp": message.written_at.isoformat(), "data": data}
    message.body = json.dumps(whole, ensure_ascii=False)
    with transaction.atomic():
        set_all(WebhookMessage.objects.filter(pk=message.pk), body=message.body)
    return message.body


def send(message: WebhookMessage, *, at: datetime) -> sending.Outcome:
    """Send a claimed message, signed."""
    body = compose(message)
    if not body:
        return sending.Outcome(204)
    signed = signing.headers(
        message.webhook.key, message=message.message_id, timestamp=int(at.timestamp()), body=body
    )
    headers = {"Content-Type": "application/json", "User-Agent": "Meniscus", **signed}
    return sending.post(message.webhook.address, body.encode(), headers, may_be_local=settings.WEBHOOKS_LOCAL)


@transaction.atomic
def note(message: WebhookMessage, outcome: sending.Outcome, *, at: datetime) -> None:
    """Say what became of a claimed message; one that was not accepted waits longer each time, and stops its webhook."""
    attempts = message.attempts + 1
    facts = {"claimed_at": None, "attempts": attempts, "status": outcome.status, "problem": outcome.problem}
    row, hook = (WebhookMessage.objects.filter(pk=message.pk), Webhook.objects.filter(pk=message.webhook_id))
    if outcome.is_accepted:
        set_all(row, **facts, sent_at=at)
        set_all(hook, failures=0)
        return
    pause = min(FIRST_PAUSE * 4 ** (attempts - 1), LONGEST_PAUSE)
    set_all(row, **facts, due_at=at + pause, given_up_at=at if attempts >= MOST_ATTEMPTS else None)
    set_all(hook, failures=F("failures") + 1)
    many = Q(failures__gte=FAILURES_UNTIL_STOPPED)
    gone = Q() if outcome.status == GONE else many
    set_all(hook.filter(gone, is_on=True), is_on=False, stopped_at=at)
