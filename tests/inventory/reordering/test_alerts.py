"""Reorder alerts: one open at a time, cleared by themselves, and mailed so that none is lost."""

import re
from datetime import datetime, timedelta
from io import StringIO
from smtplib import SMTPRecipientsRefused
from typing import Any

import pytest
from django.core import mail
from django.core.mail.backends.base import BaseEmailBackend
from django.core.mail.backends.locmem import EmailBackend as LocMemBackend
from django.core.management import CommandError, call_command
from django.db import IntegrityError, transaction

from inventory.ledger.models import Books
from inventory.materials.models import Material
from inventory.reordering import actions as alerts
from inventory.reordering.actions import CLAIM_HOLDS, claim, give_up_claim, refresh_alerts, settle_claim
from inventory.reordering.models import Alert
from inventory.reordering.queries import open_alerts
from studio.accounts.models import User
from tests.days import AT, TODAY
from tests.making import make_helper, make_lot, make_material, make_order, make_owner, units

pytestmark = pytest.mark.django_db
LATER = AT + timedelta(hours=1)


def refresh(at: datetime = AT) -> tuple[list[Material], list[Material]]:
    raised, cleared = refresh_alerts(on=TODAY, at=at)
    return [alert.material for alert in raised], [alert.material for alert in cleared]


def a_low_material(**facts: Any) -> Material:
    return make_material(reorder_level=units(100), **facts)


def send(*options: str) -> str:
    told = StringIO()
    call_command("send_alerts", *options, stdout=told)
    return told.getvalue()


@pytest.fixture
def the_owners_address(db: None) -> str:
    owner = make_owner()
    owner.email = "nell@wrackline.example"
    owner.save()
    return owner.email


def test_an_alert_is_raised_at_the_level_and_tells_why() -> None:
    paint = a_low_material()
    make_lot(material=paint, quantity=units(100))
    assert refresh() == ([paint], [])
    alert = Alert.objects.get()
    assert (alert.stock, alert.on_order, alert.level, alert.reason, alert.raised_at) == (
        units(100),
        0,
        units(100),
        "Your own level.",
        AT,
    )


def test_running_it_again_raises_nothing_more() -> None:
    a_low_material()
    refresh()
    assert refresh() == ([], [])
    assert Alert.objects.count() == 1


def test_it_clears_by_itself_when_stock_rises_above_the_level() -> None:
    paint = a_low_material()
    refresh()
    make_lot(material=paint, quantity=units(100))
    assert refresh() == ([], [])
    make_lot(material=paint, quantity=units(1))
    assert refresh(LATER) == ([], [paint])
    assert Alert.objects.get().cleared_at == LATER


def test_an_order_clears_it_too() -> None:
    paint = a_low_material()
    refresh()
    make_order((paint, units(500)))
    assert refresh() == ([], [paint])


def test_an_archived_material_needs_no_alert() -> None:
    paint = a_low_material()
    refresh()
    Material.objects.filter(pk=paint.pk).update(is_archived=True)
    assert refresh() == ([], [paint])


def test_it_can_be_raised_again_after_it_cleared() -> None:
    paint = a_low_material()
    refresh()
    Material.objects.filter(pk=paint.pk).update(reorder_level=None)
    refresh()
    Material.objects.filter(pk=paint.pk).update(reorder_level=5)
    assert refresh() == ([paint], [])
    assert [alert.material for alert in open_alerts()] == [paint]
    assert Alert.objects.count() == 2


def test_looking_at_chosen_materials_leaves_the_others_alone() -> None:
    chosen, other = a_low_material(), a_low_material()
    refresh_alerts(on=TODAY, at=AT, materials=[chosen.pk])
    assert [alert.material for alert in open_alerts()] == [chosen]
    refresh()
    Material.objects.update(reorder_level=None)
    refresh_alerts(on=TODAY, at=AT, materials=[chosen.pk])
    assert [alert.material for alert in open_alerts()] == [other]


def test_the_database_refuses_a_second_open_alert() -> None:
    paint = a_low_material()
    refresh()
    with pytest.raises(IntegrityError), transaction.atomic():
        Alert.objects.create(material=paint, raised_at=AT, stock=0, on_order=0, level=0, reason="twice")


def test_a_claim_keeps_other_runs_from_mailing_the_same() -> None:
    a_low_material()
    refresh()
    assert len(claim(at=AT)) == 1
    assert claim(at=AT) == []


def test_a_claim_that_was_given_up_is_taken_over_at_once_and_whole() -> None:
    first = a_low_material()
    refresh()
    give_up_claim(claim(at=AT), at=AT)
    a_low_material()
    refresh()
    assert [alert.material for alert in claim(at=AT)] == [first]


def test_the_claim_of_a_run_that_died_is_taken_over_when_it_no_longer_holds() -> None:
    a_low_material()
    refresh()
    died = claim(at=AT)
    assert claim(at=AT + CLAIM_HOLDS - timedelta(seconds=1)) == []
    assert claim(at=AT + CLAIM_HOLDS) == died


def test_a_mailed_alert_is_not_claimed_again() -> None:
    a_low_material()
    refresh()
    settle_claim(claim(at=AT), mailed_at=AT)
    assert claim(at=AT + 2 * CLAIM_HOLDS) == []


def test_the_command_lists_and_mails_the_owner_once(the_owners_address: str) -> None:
    a_low_material(name="Mussel blue")
    told = send()
    assert "Open alerts: 1." in told
    assert "Mussel blue: 0 mL left; reorder level 100 mL. Your own level." in told
    assert "Alerts sent: 1." in told
    message = mail.outbox[0]
    assert (message.subject, message.to) == ("1 material to order", [the_owners_address])
    assert "Mussel blue" in message.body
    assert Books.objects.get().last_hash in message.body
    assert "Alerts sent: 0." in send()
    assert len(mail.outbox) == 1


def test_a_mail_goes_to_the_given_addresses_instead(the_owners_address: str) -> None:
    a_low_material()
    send("--to", "bench@wrackline.example", "--to", "loft@wrackline.example")
    assert [message.to for message in mail.outbox] == [
        ["bench@wrackline.example"],
        ["loft@wrackline.example"],
    ]
    bench, loft = (message.extra_headers["Message-ID"] for message in mail.outbox)
    assert bench == loft


def test_a_dry_run_changes_and_mails_nothing(the_owners_address: str) -> None:
    a_low_material(name="Mussel blue")
    assert "Mussel blue" in send("--dry-run")
    assert not Alert.objects.exists()
    assert not mail.outbox


def test_nothing_to_order_is_said_and_not_mailed(the_owners_address: str) -> None:
    assert "Nothing to order." in send()
    assert not mail.outbox


def test_without_anybody_to_mail_the_alerts_wait() -> None:
    a_low_material()
    helper = make_helper()
    User.objects.filter(pk=helper.pk).update(email="helper@wrackline.example")
    with pytest.raises(CommandError, match="no one to send them to") as refusal:
        send()
    assert refusal.value.returncode == 2
    assert "Alerts sent: 1." in send("--to", "bench@wrackline.example")


class BrokenServer(BaseEmailBackend):
    def send_messages(self, email_messages: Any) -> int:
        raise ConnectionRefusedError("the mail server is asleep")


def test_a_mail_that_fails_goes_out_next_time_under_the_same_name(
    the_owners_address: str, settings: Any
) -> None:
    a_low_material(name="Mussel blue")
    working = settings.EMAIL_BACKEND
    settings.EMAIL_BACKEND = f"{__name__}.BrokenServer"
    with pytest.raises(CommandError, match="asleep") as refusal:
        send()
    assert refusal.value.returncode == 1
    assert Alert.objects.get().mailed_at is None
    settings.EMAIL_BACKEND = working
    a_low_material(name="Kelp green")
    send()
    assert ["Mussel blue" in message.body for message in mail.outbox] == [True, False]
    names = [message.extra_headers["Message-ID"] for message in mail.outbox]
    assert len(set(names)) == 2


def test_a_repeated_mail_has_the_name_of_the_first(the_owners_address: str, monkeypatch: Any) -> None:
    """A run that dies between sending and saying so sends once more; the name lets a mail program see the repeat."""

    def dies(*args: Any, **facts: Any) -> None:
        raise KeyboardInterrupt

    a_low_material()
    with monkeypatch.context() as patch:
        patch.setattr(alerts, "note_mail", dies)
        with pytest.raises(KeyboardInterrupt):
            send()
    Alert.objects.update(claimed_at=AT - timedelta(days=1))
    a_low_material()
    send()
    first, again, new = (message.extra_headers["Message-ID"] for message in mail.outbox)
    assert first == again != new
    assert re.fullmatch(r"<alerts-[0-9a-f]{32}@[^@<>\s]+>", first)


class PickyServer(LocMemBackend):
    """Takes no mail for the loft."""

    def send_messages(self, messages: Any) -> int:
        if any("loft@" in address for message in messages for address in message.to):
            raise SMTPRecipientsRefused({LOFT: (550, b"no such mailbox")})
        return super().send_messages(messages)


BENCH, LOFT = "bench@wrackline.example", "loft@wrackline.example"
BOTH = ("--to", LOFT, "--to", BENCH)


def test_an_address_that_fails_is_tried_again_and_the_others_get_nothing_twice(settings: Any) -> None:
    a_low_material(name="Mussel blue")
    working = settings.EMAIL_BACKEND
    settings.EMAIL_BACKEND = f"{__name__}.PickyServer"
    with pytest.raises(CommandError, match=r"loft@[a-z.]+ \(550 no such mailbox\)\. The next run") as refusal:
        send(*BOTH)
    assert (refusal.value.returncode, BENCH in str(refusal.value)) == (1, False)
    assert [message.to for message in mail.outbox] == [[BENCH]]
    assert Alert.objects.get().mailed_at is None

    a_low_material(name="Kelp green")
    with pytest.raises(CommandError, match="loft@"):
        send(*BOTH)  # what is new is not held up by the address that fails
    assert ["Kelp green" in message.body for message in mail.outbox] == [False, True]

    settings.EMAIL_BACKEND = working
    assert "Alerts sent: 2." in send(*BOTH)
    assert [message.to for message in mail.outbox[2:]] == [[LOFT], [LOFT]]
    names = [message.extra_headers["Message-ID"] for message in mail.outbox]
    assert names[:2] == names[2:]
    assert "Alerts sent: 0." in send(*BOTH)


def test_an_address_that_is_no_longer_wanted_holds_nothing_up(settings: Any) -> None:
    a_low_material()
    settings.EMAIL_BACKEND = f"{__name__}.PickyServer"
    with pytest.raises(CommandError):
        send(*BOTH)
    assert "Alerts sent: 1." in send("--to", BENCH)
    assert [message.to for message in mail.outbox] == [[BENCH]]


def test_a_server_that_fails_is_asked_once_for_each_address(settings: Any, monkeypatch: Any) -> None:
    """Two mails wait; with a server that hangs each attempt costs its whole patience."""
    attempts: list[list[str]] = []

    def counted(self: BrokenServer, messages: Any) -> int:
        attempts.extend(message.to for message in messages)
        raise ConnectionRefusedError("the mail server is asleep")

    monkeypatch.setattr(BrokenServer, "send_messages", counted)
    settings.EMAIL_BACKEND = f"{__name__}.BrokenServer"
    a_low_material()
    for expected in ([[LOFT], [BENCH]], [[LOFT], [BENCH]]):
        attempts.clear()
        with pytest.raises(CommandError, match="asleep"):
            send(*BOTH)
        assert attempts == expected
        a_low_material()


def test_an_address_given_twice_is_mailed_once() -> None:
    a_low_material()
    send("--to", BENCH, "--to", BENCH)
    assert len(mail.outbox) == 1


def test_nothing_typed_reaches_the_headers(the_owners_address: str) -> None:
    a_low_material(name="Teal\r\nBcc: everyone@elsewhere.example")
    send()
    sent = mail.outbox[0].message()
    assert sent["Bcc"] is None
    assert "\nBcc:" not in mail.outbox[0].body
    assert sent["Subject"] == "1 material to order"


def test_an_address_with_a_line_break_is_refused() -> None:
    a_low_material()
    with pytest.raises(CommandError, match="not an e-mail address"):
        send("--to", "bench@wrackline.example\nBcc: everyone@elsewhere.example")
    assert not mail.outbox


def test_an_alert_that_cleared_before_it_was_mailed_is_not_mailed(the_owners_address: str) -> None:
    paint = a_low_material()
    refresh()
    make_lot(material=paint, quantity=units(500))
    assert "Alerts sent: 0." in send()
