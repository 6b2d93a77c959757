"""Look at every kind of alert, list what needs attention, and email what is new. Run it once a day."""

from argparse import ArgumentParser
from datetime import datetime
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError
from django.core.validators import validate_email
from django.db import transaction
from django.utils import timezone

from inventory.alerts import digests
from inventory.alerts.actions import outbox
from inventory.alerts.actions.refreshing import refresh_alerts
from inventory.alerts.calculations import is_quiet
from inventory.alerts.digests import Recipient, one_line
from inventory.alerts.models import DigestChoice
from inventory.alerts.queries import open_alerts, shown
from inventory.webhooks import actions as webhooks
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio

MAIL_FAILED, NOBODY_TO_MAIL = 1, 2


class Command(BaseCommand):
    help = (
        "Update all alerts, list the open ones, and email what is new, once a day to each address. Exit status: "
        "0 done, 1 an email could not be sent (the next run tries again), 2 there is no one to send it to."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--to",
            action="append",
            default=[],
            metavar="ADDRESS",
            help="Email address; repeat for more. Default: everybody who wants the daily email.",
        )
        parser.add_argument("--dry-run", action="store_true", help="Only list; change and send nothing.")

    def handle(self, *args: Any, **options: Any) -> None:
        now, studio = timezone.now(), Studio.current()
        wanted = _addressed(options["to"], studio) or digests.recipients(studio)
        with transaction.atomic():
            today = timezone.localdate(now)
            refreshed = refresh_alerts(on=today, at=now)
            self._list(now, studio)
            if options["dry_run"]:
                transaction.set_rollback(True)
                return
            outbox.write_digests(on=today, at=now, recipients=wanted)
        self._tell_webhooks()
        self.stdout.write(f"New: {len(refreshed.raised)}, cleared: {len(refreshed.cleared)}.")
        if not wanted and _somebody_should_know(now):
            raise CommandError(
                "There is no one to send them to. Give --to ADDRESS, or enter an email address for the owner.",
                returncode=NOBODY_TO_MAIL,
            )
        if is_quiet(today, studio.quiet_weekdays):
            self.stdout.write("No emails are sent today: the settings say that it is a quiet day.")
            return
        self._send([recipient.address for recipient in wanted])

    def _list(self, now: datetime, studio: Studio) -> None:
        today = timezone.localdate(now)
        rows = shown(open_alerts(today), on=today, formatter=Formatter.of(studio))
        self.stdout.write(f"Open alerts: {len(rows)}." if rows else "Nothing needs attention.")
        for row in rows:
            self.stdout.write(f"  {row.kind.label}: {one_line(row.name)}. {one_line(row.why)}")

    def _tell_webhooks(self) -> None:
        """Send what waits for webhooks; what is not accepted waits for a later run, and is no failure of this one."""
        delivered = failed = 0
        while (message := webhooks.claim(at=timezone.now())) is not None:
            outcome = webhooks.send(message, at=timezone.now())
            webhooks.note(message, outcome, at=timezone.now())
            delivered, failed = delivered + outcome.is_accepted, failed + (not outcome.is_accepted)
        if delivered or failed:
            self.stdout.write(f"Webhook messages delivered: {delivered}, to be tried again: {failed}.")

    def _send(self, addresses: list[str]) -> None:
        """Send what waits in the outbox. An address that failed is left until the next run: a server that hangs
        holds up each address once.
        """
        sent, failed = 0, dict[str, str]()
        while remaining := [address for address in addresses if address not in failed]:
            digest = outbox.claim(at=timezone.now(), addresses=remaining)
            if digest is None:
                break
            problem = outbox.send(digest)
            if problem:
                failed[digest.address] = problem
                outbox.note_failed(digest, problem=problem)
            else:
                sent += 1
                outbox.note_sent(digest, at=timezone.now())
        self.stdout.write(f"Emails sent: {sent}.")
        if failed:
            addresses_in_words = "; ".join(f"{address} ({problem})" for address, problem in failed.items())
            raise CommandError(
                f"The email could not be sent to {addresses_in_words}. The next run tries again.",
                returncode=MAIL_FAILED,
            )


def _somebody_should_know(now: datetime) -> bool:
    """Whether alerts are open and nobody has said that they want no email."""
    has_chosen = DigestChoice.objects.filter(wants_digest=False).exists()
    return not has_chosen and open_alerts(timezone.localdate(now)).exists()


def _addressed(wanted: list[str], studio: Studio) -> list[Recipient]:
    """The addresses that were given, each once, in the studio's language."""
    for address in wanted:
        try:
            validate_email(address)
        except ValidationError:
            raise CommandError(
                f"{address!r} is not an e-mail address. Write one such as name@example.org.",
                returncode=NOBODY_TO_MAIL,
            ) from None
    return [Recipient(address, studio.language) for address in dict.fromkeys(wanted)]
