"""Guessing is locked out, no way in goes round the code, and no secret leaves a trace."""

import logging
from datetime import timedelta

import pytest
from axes.models import AccessAttempt
from django.core.cache import cache
from django.test import Client
from django.utils import timezone
from django_otp.plugins.otp_totp.models import TOTPDevice

from studio.accounts.login_limits import COOKIE
from studio.accounts.models import User
from studio.accounts.tokens import add_token
from tests.studio.accounts.two_factor.phones import (
    PASSWORD,
    Phone,
    code_given,
    is_in,
    password_given,
    switched_on,
)

pytestmark = pytest.mark.django_db

# Guessing


def test_five_wrong_codes_lock_the_name_at_that_address(
    sheet: list[str], keeper: User, phone: Phone, client: Client
) -> None:
    """OWASP ASVS 5.0, 6.3.1: controls against brute force."""
    password_given(client)
    answers = []
    for _ in range(5):
        phone.later(40)
        answers.append(code_given(client, "000000"))
    assert [answer.status_code for answer in answers] == [422, 422, 422, 422, 429]
    assert b"Too many failed attempts" in answers[-1].content
    phone.later(40)
    assert code_given(client, phone.code(keeper)).status_code == 429
    assert code_given(client, sheet[0]).status_code == 429
    assert password_given(client).status_code == 429
    assert not is_in(client)
    elsewhere = Client(REMOTE_ADDR="192.0.2.7")
    password_given(elsewhere)
    assert code_given(elsewhere, phone.code(keeper)).status_code == 302


def test_a_right_password_between_wrong_codes_does_not_start_the_count_again(
    sheet: list[str], phone: Phone
) -> None:
    statuses = []
    for _ in range(5):
        client = Client()
        password_given(client)
        phone.later(40)
        statuses.append(code_given(client, "000000").status_code)
    assert statuses[-1] == 429


def test_wrong_passwords_and_wrong_codes_count_together(
    sheet: list[str], phone: Phone, client: Client
) -> None:
    for _ in range(3):
        client.post("/login/", {"username": "keeper", "password": "wrong"})
    password_given(client)
    assert code_given(client, "000000").status_code == 422
    assert code_given(client, "000000").status_code == 429


def test_after_a_wrong_code_even_the_right_one_must_wait(
    sheet: list[str], keeper: User, phone: Phone, client: Client
) -> None:
    password_given(client)
    assert "Wait 1 second," in code_given(client, "000000").content.decode()
    TOTPDevice.objects.update(throttling_failure_count=3, throttling_failure_timestamp=timezone.now())
    assert "Wait 4 seconds," in code_given(client, phone.code(keeper)).content.decode()
    TOTPDevice.objects.update(throttling_failure_timestamp=timezone.now() - timedelta(seconds=5))
    assert code_given(client, phone.code(keeper)).status_code == 302
    assert AccessAttempt.objects.count() == 0


def test_a_password_alone_makes_no_device_known_where_a_code_is_asked_for(
    sheet: list[str], keeper: User, phone: Phone, client: Client
) -> None:
    password_given(client)
    assert COOKIE not in client.cookies
    code_given(client, phone.code(keeper))
    assert COOKIE in client.cookies


# Every other way in


def test_a_session_from_before_the_codes_ends_when_they_are_switched_on(keeper: User, phone: Phone) -> None:
    here, elsewhere = Client(), Client()
    for client in (here, elsewhere):
        password_given(client)
        assert is_in(client)
    switched_on(here, keeper, phone)
    assert is_in(here)
    assert not is_in(elsewhere)
    assert elsewhere.get("/api/materials/").status_code == 401


@pytest.mark.parametrize("path", ["/settings/", "/settings/people/", "/backups/", "/", "/two-factor/"])
def test_no_page_opens_to_a_session_that_gave_no_code(sheet: list[str], keeper: User, path: str) -> None:
    client = Client()
    client.force_login(keeper)  # as if by a door that knows nothing of codes
    answer = client.get(path)
    assert answer.status_code == 302
    assert "/login/?next=" in answer.headers["Location"]
    assert "_auth_user_id" not in client.session


def test_a_code_of_somebody_else_noted_in_the_session_is_worth_nothing(
    sheet: list[str], keeper: User, phone: Phone
) -> None:
    second = User.objects.create_user("second", password=PASSWORD)
    client = Client()
    client.force_login(second)
    switched_on(client, second, phone)
    noted = client.session["otp_device_id"]
    intruder = Client()
    intruder.force_login(keeper)
    session = intruder.session
    session["otp_device_id"] = noted
    session.save()
    assert not is_in(intruder)


def test_programs_with_a_token_are_asked_for_no_code(sheet: list[str], keeper: User, client: Client) -> None:
    cache.clear()
    _token, text = add_token(user=keeper, name="till", scope="read", days=1, at=timezone.now())
    answer = client.get("/api/materials/", headers={"Authorization": f"Bearer {text}"})
    assert answer.status_code == 200


# The log


def test_the_log_tells_what_happened_and_no_secret(
    sheet: list[str], keeper: User, phone: Phone, client: Client, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.INFO, "meniscus")
    key = TOTPDevice.objects.get().key
    password_given(client)
    right = phone.code(keeper)
    code_given(client, "867530")
    code_given(client, "my recovery code is abcd")
    phone.later()
    code_given(client, sheet[0])
    found = [record.event for record in caplog.records if hasattr(record, "event")]
    assert found == [*["code_wrong", "login_failed"] * 2, "recovery_code_used", "logged_in"]
    assert 'account="keeper" left="9"' in caplog.text
    kept = caplog.text + str(list(AccessAttempt.objects.values()))
    for secret in (key, right, "867530", "abcd", sheet[0], sheet[0].replace(" ", ""), PASSWORD):
        assert secret not in kept


def test_the_record_of_failed_logins_hides_what_was_typed(sheet: list[str], client: Client) -> None:
    password_given(client)
    code_given(client, "867530")
    code_given(client, "867531")
    kept = str(AccessAttempt.objects.values().get())
    assert "code=****" in kept
    assert "86753" not in kept
