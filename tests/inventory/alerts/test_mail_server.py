"""The daily email handed to a real SMTP server (aiosmtpd): it arrives once, whatever happens on the way."""

from collections.abc import Iterator
from email import message_from_bytes, policy
from email.message import EmailMessage
from io import StringIO
from socket import socket
from typing import Any

import pytest
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, Envelope, Session
from django.core.management import CommandError, call_command

from inventory.alerts.models import Digest
from studio.accounts.models import User
from tests.making import make_material, units

pytestmark = pytest.mark.django_db
ADDRESS = "nell@wrackline.example"


class Mailbox:
    """Keeps what arrives. While it `dies` it takes the text and hangs up before it says so."""

    def __init__(self) -> None:
        self.mails: list[EmailMessage] = []
        self.answer = "250 taken"

    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:  # noqa: N802 (aiosmtpd's)
        content = envelope.content
        assert isinstance(content, bytes)
        if self.answer.startswith("250") or self.answer == "dies":
            self.mails.append(message_from_bytes(content, policy=policy.default))
        if self.answer == "dies":
            assert server.transport is not None
            server.transport.close()
        return self.answer


@pytest.fixture
def mailbox(settings: Any) -> Iterator[Mailbox]:
    handler = Mailbox()
    with socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    controller = Controller(handler, hostname="127.0.0.1", port=port)
    controller.start()
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST = "127.0.0.1"
    settings.EMAIL_PORT = port
    settings.EMAIL_TIMEOUT = 5
    try:
        yield handler
    finally:
        controller.stop()


@pytest.fixture(autouse=True)
def something_to_tell(owner: User) -> None:
    User.objects.filter(pk=owner.pk).update(email=ADDRESS)
    make_material(name="Mussel blue", reorder_level=units(100))


def send() -> str:
    told = StringIO()
    call_command("send_alerts", stdout=told)
    return told.getvalue()


def test_it_arrives_once_as_text_and_as_html(mailbox: Mailbox) -> None:
    assert "Emails sent: 1." in send()
    assert "Emails sent: 0." in send()
    [mail] = mailbox.mails
    assert (mail["To"], mail["Message-ID"]) == (ADDRESS, Digest.objects.get().message_id)
    text, html = mail.get_body(("plain",)), mail.get_body(("html",))
    assert text is not None
    assert html is not None
    assert "- Mussel blue: 0" in text.get_content()
    assert "<strong>Mussel blue</strong>" in html.get_content()


def test_a_server_that_refuses_it_gets_the_same_one_next_time(mailbox: Mailbox) -> None:
    mailbox.answer = "451 not now"
    with pytest.raises(CommandError, match="451 not now"):
        send()
    assert mailbox.mails == []
    mailbox.answer = "250 taken"
    assert "Emails sent: 1." in send()
    assert [mail["Message-ID"] for mail in mailbox.mails] == [Digest.objects.get().message_id]


def test_a_server_that_dies_midway_gets_it_again_under_the_same_name(mailbox: Mailbox) -> None:
    mailbox.answer = "dies"
    with pytest.raises(CommandError, match="The next run tries again"):
        send()
    mailbox.answer = "250 taken"
    assert "Emails sent: 1." in send()
    first, again = (mail["Message-ID"] for mail in mailbox.mails)
    assert first == again
