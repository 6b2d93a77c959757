"""The daily emails: written into the outbox in one transaction, claimed and sent one by one, and each sent once.

A run that dies, or a mail server that is away, leaves its emails in the outbox: the next run takes them over as they
were written, under the same Message-ID. Where a server took an email but the run died before it could say so, the
email goes out a second time, and that name lets a mail program tell the repeat.
"""

from collections.abc import Collection, Sequence
from datetime import date, datetime, timedelta
from smtplib import SMTPRecipientsRefused, SMTPResponseException
from typing import TypeVar
from uuid import uuid4

from django.core.mail import EmailMultiAlternatives
from django.db import transaction
from django.db.models import Model, Q, QuerySet

from inventory.alerts.calculations import is_quiet
from inventory.alerts.digests import Recipient, compose, sender_host
from inventory.alerts.models import Digest, DigestChoice
from inventory.ledger.posting import lock
from studio.accounts.models import User
from studio.auditing.chain import sealing
from studio.auditing.edit_conflicts import lock_row, refuse_stale
from studio.auditing.recording import record_change
from studio.auditing.writing import set_all
from studio.preferences.models import Studio
from studio.submission import Submission
from studio.submission import transaction as submitted

# An email is sent in seconds; a claim this old belongs to a run that died before it could say so.
CLAIM_HOLDS = timedelta(minutes=10)
PROBLEM_LENGTH = 300
Claimed = TypeVar("Claimed", bound=Model)


@transaction.atomic
@sealing()
def write_digests(*, on: date, at: datetime, recipients: Sequence[Recipient]) -> list[Digest]:
    """Write the day's email to each recipient who has none yet and for whom there is something new.

    On a quiet day nothing is written: what is new goes into the next email.
    """
    lock()  # two runs at one moment write one
    studio = Studio.current()
    if is_quiet(on, studio.quiet_weekdays):
        return []
    has_one = set(Digest.objects.filter(day=on).values_list("address", flat=True))
    written = []
    for recipient in recipients:
        letter = compose(recipient, on=on, studio=studio) if recipient.address not in has_one else None
        if letter is None:
            continue
        digest = Digest.objects.create(
            day=on,
            address=recipient.address,
            message_id=f"<alerts-{uuid4().hex}@{sender_host()}>",
            subject=letter.subject,
            text=letter.text,
            html=letter.html,
            written_at=at,
        )
        digest.alerts.set(letter.alerts)
        written.append(digest)
    return written


def claim(*, at: datetime, addresses: Collection[str]) -> Digest | None:
    """Take on the oldest unsent email to one of these addresses, so that no other run sends it; None without one."""
    waiting = Digest.objects.filter(
        Q(claimed_at__isnull=True) | Q(claimed_at__lte=at - CLAIM_HOLDS),
        sent_at__isnull=True,
        address__in=addresses,
    )
    return first_claimed(waiting.order_by("day", "pk"), at=at)


def first_claimed(waiting: QuerySet[Claimed], *, at: datetime) -> Claimed | None:
    """Take on the first row that waits, marking it in `claimed_at`; None where none is left."""
    while (row := waiting.first()) is not None:
        if waiting.filter(pk=row.pk).update(claimed_at=at):  # another run may have been quicker
            row.claimed_at = at  # type: ignore[attr-defined]
            return row
    return None


def send(digest: Digest) -> str:
    """Hand a claimed email to the mail server. Returns what went wrong, "" where nothing did."""
    message = EmailMultiAlternatives(
        subject=digest.subject,
        body=digest.text,
        to=[digest.address],
        headers={"Message-ID": digest.message_id},
    )
    message.attach_alternative(digest.html, "text/html")
    try:
        message.send()
    except Exception as problem:  # every way a mail server can fail leaves the email for the next run
        return _in_words(problem)
    return ""


def note_sent(digest: Digest, *, at: datetime) -> None:
    """Say that a claimed email was taken: it is never sent again."""
    set_all(Digest.objects.filter(pk=digest.pk, sent_at__isnull=True), sent_at=at, problem="")


def note_failed(digest: Digest, *, problem: str) -> None:
    """Say why a claimed email was not taken: the next run tries again at once."""
    words = " ".join(problem.replace("\0", "").split())[:PROBLEM_LENGTH]
    set_all(Digest.objects.filter(pk=digest.pk, sent_at__isnull=True), claimed_at=None, problem=words)


def _in_words(problem: Exception) -> str:
    """What the mail server answered, or else what went wrong."""
    if isinstance(problem, SMTPRecipientsRefused):
        return _answered(*next(iter(problem.recipients.values())))
    if isinstance(problem, SMTPResponseException):
        return _answered(problem.smtp_code, problem.smtp_error)
    return str(problem) or type(problem).__name__


def _answered(code: int, words: bytes | str) -> str:
    return f"{code} {words.decode(errors='replace') if isinstance(words, bytes) else words}"


def choose_digest(
    *,
    person: User,
    wants_digest: bool,
    muted: Collection[str],
    submission: Submission,
    seen: int | None = None,
) -> DigestChoice:
    """Keep what a person wants to be told of by email. Raises EditConflict."""
    with submitted(submission):
        lock_row(person)
        choice, _is_new = DigestChoice.objects.get_or_create(
            person=person, defaults={"wants_digest": person.is_owner}
        )
        refuse_stale(choice, seen=seen, fields=["wants_digest", "muted"])
        before, choice.muted = choice.muted, ",".join(muted)
        if before != choice.muted:
            record_change(choice, field="muted", old=before, new=choice.muted)
        choice.wants_digest = wants_digest
        choice.save(update_fields=["wants_digest", "muted"])
    return choice
