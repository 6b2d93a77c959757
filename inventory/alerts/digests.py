"""What the daily email says to whom: what is new since the last one to that address, in its reader's language."""

import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from django.conf import settings
from django.db.models import DateField, Exists, OuterRef, Value
from django.db.models.functions import Coalesce
from django.template.loader import render_to_string
from django.utils import translation

from inventory.alerts.calculations import is_quiet, next_mailing_day
from inventory.alerts.kinds import Kind, hidden_from
from inventory.alerts.models import Alert, AlertQuerySet, Digest, DigestChoice
from inventory.alerts.queries import ShownAlert, grouped, open_alerts, shown
from inventory.ledger.models import Books
from studio.accounts.models import Role, User
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.translation import _, ngettext

NEVER = date(1, 1, 1)
_BREAKS = re.compile(r"[^\S\xa0\u202f]+")  # any white space but that inside an amount
KINDS_IN_SUBJECT = 3


@dataclass(frozen=True, slots=True)
class Recipient:
    """An address, its reader's language, the kinds of alert that are left out for them, and whether they see money."""

    address: str
    language: str
    left_out: tuple[str, ...] = ()
    sees_money: bool = True


@dataclass(frozen=True, slots=True)
class Letter:
    """The email to one recipient, and the alerts that it tells of."""

    subject: str
    text: str
    html: str
    alerts: tuple[Alert, ...]


def recipients(studio: Studio) -> list[Recipient]:
    """Everybody who wants the daily email and has an address: owners unless they said no, others if they said yes."""
    found: dict[str, Recipient] = {}
    people = User.objects.filter(is_active=True).exclude(email="").select_related("digest_choice")
    for person in people.order_by("pk"):
        if wants_digest(person):
            found.setdefault(person.email, recipient_of(person, studio))
    return list(found.values())


def choice_of(person: User) -> DigestChoice | None:
    """What a person chose; None while that is nothing."""
    choice: DigestChoice | None = getattr(person, "digest_choice", None)
    return choice


def wants_digest(person: User) -> bool:
    choice = choice_of(person)
    return choice.wants_digest if choice else person.role == Role.OWNER


def recipient_of(person: User, studio: Studio) -> Recipient:
    choice = choice_of(person)
    muted = choice.muted_kinds if choice else []
    hidden = hidden_from(sees_money=person.sees_money)
    language = person.language or studio.language
    return Recipient(person.email, language, (*muted, *hidden), person.sees_money)


def untold(recipient: Recipient, on: date) -> AlertQuerySet:
    """Alerts that ask for something on a day and stood in no email to an address yet, or in none since their snooze."""
    woken = Coalesce(OuterRef("snoozed_until"), Value(NEVER, output_field=DateField()))
    mailed = Digest.objects.filter(alerts=OuterRef("pk"), address=recipient.address, day__gte=woken)
    return open_alerts(on).without(recipient.left_out).exclude(Exists(mailed))


def compose(recipient: Recipient, *, on: date, studio: Studio) -> Letter | None:
    """The email of a day to one recipient; None when there is nothing new to tell."""
    new = list(untold(recipient, on))
    if not new:
        return None
    waiting = open_alerts(on).without(recipient.left_out)
    others = [alert for alert in waiting if alert not in set(new)]
    with translation.override(recipient.language):
        formatter = Formatter.of(studio)
        groups = grouped(shown(new, on=on, formatter=formatter))
        older = grouped(shown(others, on=on, formatter=formatter, explained=False))
        # A seal is over the money too, so only for those who see money.
        books = Books.objects.get(pk=1) if recipient.sees_money else None
        return Letter(*_written(groups, older, len(new), studio, books), alerts=tuple(new))


def _written(
    groups: Sequence[tuple[Kind, list[ShownAlert]]],
    older: Sequence[tuple[Kind, list[ShownAlert]]],
    new: int,
    studio: Studio,
    books: Books | None,
) -> tuple[str, str, str]:
    """Subject, text and HTML. The subject holds nothing that anybody typed."""
    labels = ", ".join(str(kind.label) for kind, _rows in groups[:KINDS_IN_SUBJECT])
    if len(groups) > KINDS_IN_SUBJECT:
        labels = _("{kinds} and more", kinds=labels)
    subject = ngettext("{n} new alert: {kinds}", "{n} new alerts: {kinds}", new, n=new, kinds=labels)
    heading = ngettext(
        "{n} new alert for {studio}", "{n} new alerts for {studio}", new, n=new, studio=studio.name
    )
    rows = [
        (str(kind.label), [(one_line(row.name), one_line(row.why)) for row in rows]) for kind, rows in groups
    ]
    still_open = ", ".join(f"{kind.label} ({len(rows)})" for kind, rows in older)
    closing = [_("Still open from before: {kinds}.", kinds=still_open)] if still_open else []
    if books is not None:
        closing += [
            _(
                "The latest entry is ledger no. {number}, check figure {seal}.",
                number=books.last_number,
                seal=books.last_hash,
            ),
            _("Keep this email: the check figure shows whether an older entry was ever changed."),
        ]
    context = {"heading": heading, "groups": rows, "closing": closing, "language": translation.get_language()}
    return subject, "\n".join(_lines(heading, rows, closing)), render_to_string("alerts/digest.html", context)


def _lines(
    heading: str, rows: Iterable[tuple[str, list[tuple[str, str]]]], closing: Iterable[str]
) -> Iterable[str]:
    yield one_line(heading)
    for label, entries in rows:
        yield from ("", label)
        yield from (f"- {name}: {why}" for name, why in entries)
    yield ""
    yield from closing


def one_line(text: str) -> str:
    """A text on one line, without what would steer a terminal, whatever somebody called a thing."""
    spaced = _BREAKS.sub(" ", text).strip()
    return "".join(sign for sign in spaced if unicodedata.category(sign) != "Cc")


def next_letter_on(today: date, recipient: Recipient, studio: Studio) -> date:
    """The day of the next email to an address: today's while it can still be written."""
    quiet = studio.quiet_weekdays
    is_written = Digest.objects.filter(day=today, address=recipient.address).exists()
    return today if not is_quiet(today, quiet) and not is_written else next_mailing_day(today, quiet)


def sender_host() -> str:
    """The part of the sender's address after the @, for the names of emails."""
    return settings.DEFAULT_FROM_EMAIL.rpartition("@")[2].strip("> ") or "localhost"
