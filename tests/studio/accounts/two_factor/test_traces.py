"""What others see of sign-in codes: the command for a lost phone, the log, the record of changes, the settings."""

import logging
from io import StringIO
from typing import Any

import pytest
from auditlog.models import LogEntry
from axes.models import AccessAttempt
from django.core.management import CommandError, call_command
from django.test import Client
from django_otp.plugins.otp_totp.models import TOTPDevice

from studio.accounts.models import User
from studio.auditing.queries import ChangeAction, entries, field_changes
from tests.inventory.browsing import text_of
from tests.studio.accounts.two_factor.phones import PASSWORD, Phone, password_given, switched_on

pytestmark = pytest.mark.django_db


def events(caplog: pytest.LogCaptureFixture) -> list[str]:
    return [record.event for record in caplog.records if hasattr(record, "event")]


# The command


def test_the_command_switches_codes_off_for_a_lost_phone(
    sheet: list[str], keeper: User, caplog: pytest.LogCaptureFixture
) -> None:
    said = StringIO()
    call_command("switch_off_two_factor", "keeper", stdout=said)
    assert "now logs in with the password alone" in said.getvalue()
    assert events(caplog)[-1] == "codes_dropped"
    assert password_given(Client()).headers["Location"] == "/"
    changes = field_changes(entries(), fields=["two_factor"])
    assert (changes[-1].name, changes[-1].by, changes[-1].old, changes[-1].new) == (
        "keeper",
        None,
        True,
        False,
    )


@pytest.mark.parametrize(
    ("name", "said"), [("keeper", "does not use two-factor sign-in"), ("nobody", "There is no person called")]
)
def test_the_command_refuses_what_it_cannot_do(keeper: User, name: str, said: str) -> None:
    with pytest.raises(CommandError, match=said):
        call_command("switch_off_two_factor", name)


# The log and the record of changes


def test_log_and_record_tell_what_happened_and_no_secret(
    signed: Client, keeper: User, phone: Phone, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.INFO, "meniscus")
    signed.post("/two-factor/begin/", {"password": PASSWORD})
    key, first = TOTPDevice.objects.get().key, phone.code(keeper)
    signed.post("/two-factor/confirm/", {"code": "135790"})
    phone.later()
    sheet = switched_on(signed, keeper, phone)
    answer: Any = signed.post("/two-factor/recovery/", {"password": PASSWORD, "code": phone.code(keeper)})
    secret_now = TOTPDevice.objects.get().key
    signed.post("/two-factor/off/", {"password": PASSWORD, "code": answer.context["fresh"][0]})
    found = [name for name in events(caplog) if name.startswith(("code", "recovery"))]
    assert found == ["code_wrong", "codes_on", "recovery_codes_made", "recovery_code_used", "codes_off"]
    changes = field_changes(entries().exclude(action=ChangeAction.ADDED))
    assert [(change.kind, change.field, change.old, change.new, change.by) for change in changes] == [
        ("studio.user", "two_factor", False, True, keeper),
        ("studio.user", "recovery_codes", None, 10, keeper),
        ("studio.user", "two_factor", True, False, keeper),
    ]
    told = caplog.text + str(list(LogEntry.objects.values())) + str(list(AccessAttempt.objects.values()))
    for secret in (key, secret_now, first, "135790", *sheet, *answer.context["fresh"], PASSWORD):
        assert secret not in told
    assert "two-factor sign-in" in signed.get("/change-log/").content.decode()


# Where others see it


def test_an_owner_without_codes_is_told_of_them_beside_the_backups(
    signed: Client, keeper: User, phone: Phone
) -> None:
    assert "Two-factor sign-in asks for your phone as well" in text_of(signed.get("/backups/"))
    switched_on(signed, keeper, phone)
    assert "asks for your phone as well" not in text_of(signed.get("/backups/"))
