"""Report what is running out, on the terminal and by email. Run it once a day."""

import hashlib
from argparse import ArgumentParser
from smtplib import SMTPRecipientsRefused, SMTPResponseException
from typing import Any

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.mail import EmailMessage
from django.core.management.base import BaseCommand, CommandError
from django.core.validators import validate_email
from django.db import transaction
from django.utils import timezone, translation

from inventory.ledger.models import Books
from inventory.reordering import actions as alerts
from inventory.reordering.models import Alert
from inventory.reordering.queries import open_alerts
from studio.accounts.models import Role, User
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.translation import _, ngettext

MAIL_FAILED, NOBODY_TO_MAIL = 1, 2


class Command(BaseCommand):
    help = (
        "Update reorder alerts, list them, and email new ones. Exit status: 0 done, "
        "1 an email could not be sent (the next run tries again), 2 there is no one to send them to."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--to",
            action="append",
            default=[],
            metavar="ADDRESS",
            help="Email address; repeat for more. Default: every owner with an email address.",
        )
        parser.add_argument("--dry-run", action="store_true", help="Only list; change and send nothing.")

    def handle(self, *args: Any, **options: Any) -> None:
        now = timezone.now()
        if options["dry_run"]:
            with transaction.atomic():
                alerts.refresh_alerts(on=timezone.localdate(now), at=now)
                self._list(list(open_alerts()))
                transaction.set_rollback(True)
            return
        raised, cleared = alerts.refresh_alerts(on=timezone.localdate(now), at=now)
        self._list(list(open_alerts()))
        self.stdout.write(f"New: {len(raised)}, cleared: {len(cleared)}.")
        mailed, failed = self._mail(_recipients(options["to"]))
        self.stdout.write(f"Alerts sent: {mailed}.")
        if failed:
            addresses = "; ".join(f"{address} ({problem})" for address, problem in failed.items())
            raise CommandError(
                f"The email could not be sent to {addresses}. The next run tries again.",
                returncode=MAIL_FAILED,
            )

    def _list(self, standing: list[Alert]) -> None:
        formatter = Formatter.of(Studio.current())
        self.stdout.write(f"Open alerts: {len(standing)}." if standing else "Nothing to order.")
        for alert in standing:
            self.stdout.write(f"  {in_words(alert, formatter)}")

    def _mail(self, recipients: list[str]) -> tuple[int, dict[str, str]]:
        """Mail one claim after another. Returns how many alerts everybody has, and which addresses failed and why."""
        mailed, failed = 0, dict[str, str]()
        turns = set[int]()
        while claimed := alerts.claim(at=timezone.now(), besides=turns):
            if not recipients:
                alerts.give_up_claim(claimed, at=timezone.now())
                raise CommandError(
                    "There is no one to send them to. Give --to ADDRESS, or enter an email address for the owner.",
                    returncode=NOBODY_TO_MAIL,
                )
            turns |= {alert.pk for alert in claimed}
            mailed += len(claimed) if _deliver(claimed, recipients, failed) else 0
            if failed.keys() >= set(recipients):
                break
        return mailed, failed


def _deliver(claimed: list[Alert], recipients: list[str], failed: dict[str, str]) -> bool:
    """Send a claim to each address by itself and keep, at once, what became of it; true when everybody has it.

    An address that failed is left until the next run, so that a server that hangs holds up each address once.
    """
    taken = alerts.took(claimed)
    for address in recipients:
        if address in taken or address in failed:
            continue
        try:
            message(claimed, address).send()
        except Exception as problem:  # every way a mail server can fail leaves the address for the next run
            failed[address] = _in_words(problem)
            alerts.note_mail(claimed, address=address, at=timezone.now(), problem=failed[address])
        else:
            taken.add(address)
            alerts.note_mail(claimed, address=address, at=timezone.now())
    if taken >= set(recipients):
        alerts.settle_claim(claimed, mailed_at=timezone.now())
        return True
    alerts.give_up_claim(claimed, at=timezone.now())
    return False


def _in_words(problem: Exception) -> str:
    """What the mail server answered, or else what went wrong."""
    if isinstance(problem, SMTPRecipientsRefused):
        return _answered(*next(iter(problem.recipients.values())))
    if isinstance(problem, SMTPResponseException):
        return _answered(problem.smtp_code, problem.smtp_error)
    return str(problem) or type(problem).__name__


def _answered(code: int, words: bytes | str) -> str:
    return f"{code} {words.decode(errors='replace') if isinstance(words, bytes) else words}"


def message(claimed: list[Alert], address: str) -> EmailMessage:
    """The mail of one claim to one address. Its headers hold nothing that anybody typed but that checked address."""
    studio = Studio.current()
    with translation.override(studio.language):
        return _written(claimed, address, studio)


def _written(claimed: list[Alert], address: str, studio: Studio) -> EmailMessage:
    formatter = Formatter.of(studio)
    current = [alert for alert in claimed if alert.cleared_at is None]
    books = Books.objects.get(pk=1)
    lines = [
        _("{studio}: these materials have reached their reorder level.", studio=studio.name),
        "",
        *[in_words(alert, formatter) for alert in current],
        "",
        _("The ledger is at posting {number}, {seal}.", number=books.last_number, seal=books.last_hash),
        _("Keep this email: that figure shows later whether an older posting was ever changed."),
    ]
    name = hashlib.sha256(",".join(str(alert.pk) for alert in claimed).encode()).hexdigest()[:32]
    host = settings.DEFAULT_FROM_EMAIL.rpartition("@")[2].strip("> ") or "localhost"
    subject = ngettext("{n} material to order", "{n} materials to order", len(current), n=len(current))
    return EmailMessage(
        subject=subject,
        body="\n".join(lines),
        to=[address],
        headers={"Message-ID": f"<alerts-{name}@{host}>"},
    )


def in_words(alert: Alert, formatter: Formatter) -> str:
    """One alert on one line, whatever the material is called."""
    measure = alert.material.measure
    facts = {
        "name": " ".join(alert.material.name.split()),
        "left": formatter.quantity(alert.stock, measure),
        "level": formatter.quantity(alert.level, measure),
        "reason": alert.reason,
    }
    if not alert.on_order:
        return _("{name}: {left} left; reorder level {level}. {reason}", **facts)
    coming = formatter.quantity(alert.on_order, measure)
    return _(
        "{name}: {left} left, {coming} on order; reorder level {level}. {reason}", coming=coming, **facts
    )


def _recipients(wanted: list[str]) -> list[str]:
    addresses = wanted or list(
        User.objects.filter(role=Role.OWNER, is_active=True).exclude(email="").values_list("email", flat=True)
    )
    for address in addresses:
        try:
            validate_email(address)
        except ValidationError:
            raise CommandError(
                f"{address!r} is not an e-mail address. Write one such as name@example.org.",
                returncode=NOBODY_TO_MAIL,
            ) from None
    return list(dict.fromkeys(addresses))
