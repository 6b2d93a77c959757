"""The outbox of emails: nothing is sent twice, and nothing is lost."""

from collections.abc import Callable
from datetime import date, timedelta
from smtplib import SMTPRecipientsRefused
from typing import Any

import pytest
from django.core import mail
from django.core.mail import EmailMultiAlternatives
from django.core.mail.backends.locmem import EmailBackend as LocMemBackend
from django.core.management import CommandError
from django.db import IntegrityError, transaction

from inventory.alerts.actions import outbox
from inventory.alerts.digests import Recipient
from inventory.alerts.models import Alert, Digest
from tests.days import AT, DAY, TODAY
from tests.inventory.alerts import mailing
from tests.inventory.alerts.looking import look, set_up
from tests.inventory.alerts.mailing import BENCH, LOFT, BrokenServer, a_low_material, send
from tests.making import make_lot, units

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("on_day")]
BOTH = ("--to", LOFT, "--to", BENCH)


# Nothing twice, nothing lost


class PickyServer(LocMemBackend):
    """Takes no mail for the loft."""

    def send_messages(self, messages: Any) -> int:
        if any("loft@" in address for message in messages for address in message.to):
            raise SMTPRecipientsRefused({LOFT: (550, b"no such mailbox")})
        return super().send_messages(messages)


def test_an_email_that_fails_goes_out_next_time_as_it_was_written(
    owners_address: str, settings: Any, on_day: Callable[[date], None]
) -> None:
    paint = a_low_material(name="Mussel blue")
    working, settings.EMAIL_BACKEND = settings.EMAIL_BACKEND, f"{mailing.__name__}.BrokenServer"
    with pytest.raises(CommandError, match="asleep") as refusal:
        send()
    assert refusal.value.returncode == 1
    waiting = Digest.objects.get()
    assert (waiting.sent_at, waiting.claimed_at, waiting.problem) == (None, None, "the mail server is asleep")
    settings.EMAIL_BACKEND = working
    make_lot(material=paint, quantity=units(1_000))  # gone by then, and told all the same
    on_day(TODAY + DAY)
    a_low_material(name="Kelp green")
    assert "Emails sent: 2." in send()
    first, second = mail.outbox
    assert first.extra_headers["Message-ID"] == waiting.message_id != second.extra_headers["Message-ID"]
    assert "Mussel blue" in first.body
    assert "Kelp green" in second.body
    assert "Emails sent: 0." in send()


def test_a_run_that_dies_between_sending_and_saying_so_repeats_under_the_same_name(
    owners_address: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def dies(*args: Any, **facts: Any) -> None:
        raise KeyboardInterrupt

    a_low_material()
    with monkeypatch.context() as patch:
        patch.setattr(outbox, "note_sent", dies)
        with pytest.raises(KeyboardInterrupt):
            send()
    assert "Emails sent: 0." in send()  # its claim holds for a while
    Digest.objects.update(claimed_at=AT - timedelta(days=1))
    assert "Emails sent: 1." in send()
    first, again = (message.extra_headers["Message-ID"] for message in mail.outbox)
    assert first == again
    assert mail.outbox[0].body == mail.outbox[1].body


def test_a_claim_keeps_other_runs_away_until_it_no_longer_holds() -> None:
    a_low_material()
    look()
    outbox.write_digests(on=TODAY, at=AT, recipients=[Recipient(BENCH, "en")])
    first = outbox.claim(at=AT, addresses=[BENCH])
    assert first is not None
    assert outbox.claim(at=AT + outbox.CLAIM_HOLDS - timedelta(seconds=1), addresses=[BENCH]) is None
    assert outbox.claim(at=AT + outbox.CLAIM_HOLDS, addresses=[BENCH]) == first
    outbox.note_failed(first, problem="451 not\nnow\0")
    assert Digest.objects.get().problem == "451 not now"
    assert outbox.claim(at=AT, addresses=[LOFT]) is None
    assert outbox.claim(at=AT, addresses=[BENCH]) == first
    outbox.note_sent(first, at=AT)
    outbox.note_failed(first, problem="too late")
    assert Digest.objects.get().sent_at == AT
    assert outbox.claim(at=AT + 2 * outbox.CLAIM_HOLDS, addresses=[BENCH]) is None


def test_writing_twice_writes_one_and_so_does_the_database() -> None:
    a_low_material()
    look()
    recipient = [Recipient(BENCH, "en")]
    assert len(outbox.write_digests(on=TODAY, at=AT, recipients=recipient)) == 1
    a_low_material()
    look()
    assert outbox.write_digests(on=TODAY, at=AT, recipients=recipient) == []
    again = Digest.objects.get()
    again.pk, again.message_id = None, "<another@example.org>"
    with pytest.raises(IntegrityError), transaction.atomic():
        again.save(force_insert=True)


def test_an_address_that_fails_is_tried_again_and_the_others_get_nothing_twice(
    settings: Any, on_day: Callable[[date], None]
) -> None:
    a_low_material(name="Mussel blue")
    working, settings.EMAIL_BACKEND = settings.EMAIL_BACKEND, f"{__name__}.PickyServer"
    with pytest.raises(CommandError, match=r"loft@[a-z.]+ \(550 no such mailbox\)\. The next run") as refusal:
        send(*BOTH)
    assert (refusal.value.returncode, BENCH in str(refusal.value)) == (1, False)
    assert [message.to for message in mail.outbox] == [[BENCH]]
    on_day(TODAY + DAY)
    a_low_material(name="Kelp green")
    with pytest.raises(CommandError, match="loft@"):
        send(*BOTH)  # what is new is not held up by the address that fails
    assert ["Kelp green" in message.body for message in mail.outbox] == [False, True]
    settings.EMAIL_BACKEND = working
    assert "Emails sent: 2." in send(*BOTH)
    assert [message.to for message in mail.outbox[2:]] == [[LOFT], [LOFT]]
    assert "Emails sent: 0." in send(*BOTH)


def test_an_address_that_is_no_longer_wanted_holds_nothing_up(settings: Any) -> None:
    a_low_material()
    settings.EMAIL_BACKEND = f"{__name__}.PickyServer"
    with pytest.raises(CommandError):
        send(*BOTH)
    assert "Emails sent: 0." in send("--to", BENCH)


def test_a_server_that_fails_is_asked_once_for_each_address(
    settings: Any, monkeypatch: pytest.MonkeyPatch, on_day: Callable[[date], None]
) -> None:
    """Two emails wait; with a server that hangs each attempt costs its whole patience."""
    attempts: list[list[str]] = []

    def counted(self: BrokenServer, messages: Any) -> int:
        attempts.extend(message.to for message in messages)
        raise ConnectionRefusedError("the mail server is asleep")

    monkeypatch.setattr(BrokenServer, "send_messages", counted)
    settings.EMAIL_BACKEND = f"{mailing.__name__}.BrokenServer"
    for ahead in (0, 1):
        on_day(TODAY + ahead * DAY)
        a_low_material()
        attempts.clear()
        with pytest.raises(CommandError, match="asleep"):
            send(*BOTH)
        assert sorted(attempts) == [[BENCH], [LOFT]]


def test_a_missed_day_loses_nothing(owners_address: str, on_day: Callable[[date], None]) -> None:
    a_low_material(name="Mussel blue")
    look()  # as after a commit; no run that day
    on_day(TODAY + 3 * DAY)
    send()
    assert "Mussel blue" in mail.outbox[0].body


# What could go wrong with what is typed


def test_a_dry_run_changes_and_sends_nothing(owners_address: str) -> None:
    a_low_material(name="Mussel blue")
    assert "Mussel blue" in send("--dry-run")
    assert not Alert.objects.exists()
    assert not mail.outbox


def test_nothing_typed_reaches_the_headers_or_becomes_markup(owners_address: str) -> None:
    set_up(name="Harbour\nBcc: all@elsewhere.example")
    a_low_material(name="Teal\r\nBcc: everyone@elsewhere.example <b>")
    send()
    [message] = mail.outbox
    assert isinstance(message, EmailMultiAlternatives)
    sent = message.message()
    assert sent["Bcc"] is None
    assert "\nBcc:" not in message.body
    assert sent["Subject"] == "1 new alert: Out of stock"
    assert "<b>" not in str(message.alternatives[0][0])


def test_an_address_with_a_line_break_is_refused() -> None:
    a_low_material()
    with pytest.raises(CommandError, match="not an e-mail address"):
        send("--to", "bench@wrackline.example\nBcc: everyone@elsewhere.example")
    assert not mail.outbox


def test_an_alert_that_cleared_before_the_email_was_written_is_not_told(owners_address: str) -> None:
    paint = a_low_material()
    look()
    make_lot(material=paint, quantity=units(500))
    assert "Emails sent: 0." in send()
