"""The door: throttled logins, sessions that end, headers on every answer, a start that refuses weak settings."""

import json
import logging
import re
import stat
import sys
from datetime import timedelta
from pathlib import Path

import pytest
from axes.models import AccessAttempt
from django.conf import settings as project
from django.contrib.sessions.models import Session
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.http import HttpRequest, HttpResponse
from django.test import Client, RequestFactory
from django.urls import include, path
from django.utils import timezone
from pytest_django import Settings

from studio import settings as as_written
from studio.accounts import security_log as security
from studio.accounts.models import Role, User
from studio.accounts.roles import OWNER_ONLY, role_required

PASSWORD = "seven herons over the slipway"
SECRET = "the-owner-keeps-her-key-under-the-third-pot"


def broken(request: HttpRequest) -> HttpResponse:
    raise RuntimeError(SECRET)


@role_required(*OWNER_ONLY)
def owners(request: HttpRequest) -> HttpResponse:
    return HttpResponse("for the owner")


urlpatterns = [path("broken/", broken), path("owners/", owners), path("", include("studio.urls"))]
pytestmark = pytest.mark.urls(__name__)


@pytest.fixture
def keeper(db: None) -> User:
    return User.objects.create_user("keeper", password=PASSWORD, role=Role.OWNER)


def log_in(client: Client, password: str = PASSWORD, *, name: str = "keeper", **headers: str) -> int:
    said = {"username": name, "password": password}
    return client.post("/login/", said, **headers).status_code  # type: ignore[arg-type]


# Guessing


def test_passwords_are_kept_under_argon2(db: None, settings: Settings) -> None:
    """OWASP ASVS 5.0, 11.4.2: an approved, computationally intensive key derivation function."""
    settings.PASSWORD_HASHERS = as_written.PASSWORD_HASHERS  # not the quick one of the tests
    assert User.objects.create_user("x", password=PASSWORD).password.startswith("argon2$argon2id$")


def test_five_wrong_passwords_lock_a_name_at_an_address(keeper: User, client: Client) -> None:
    """OWASP ASVS 5.0, 6.3.1: controls against credential stuffing and brute force."""
    assert [log_in(client, "wrong") for _ in range(4)] == [200] * 4
    answer = client.post("/login/", {"username": "keeper", "password": "wrong"})
    assert answer.status_code == 429
    assert b"Too many failed attempts" in answer.content
    assert log_in(client) == 429
    assert log_in(client, REMOTE_ADDR="192.0.2.7") == 302


def test_a_lock_on_one_name_leaves_the_others_at_that_address_alone(keeper: User, client: Client) -> None:
    User.objects.create_user("second", password=PASSWORD)
    for _ in range(6):
        log_in(client, "wrong")
    assert log_in(Client(), name="second") == 302


def test_of_many_guesses_hardly_any_is_checked(
    keeper: User, client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    checked = []
    monkeypatch.setattr(User, "check_password", lambda user, guess: checked.append(guess))
    for guess in range(40):
        log_in(client, f"guess {guess}", HTTP_USER_AGENT=f"agent {guess}")
    assert len(checked) <= 5


def test_the_lock_opens_half_an_hour_after_the_last_try(keeper: User, client: Client) -> None:
    for _ in range(5):
        log_in(client, "wrong")
    for attempt in AccessAttempt.objects.all():
        attempt.attempt_time -= timedelta(minutes=31)
        attempt.save()
    assert log_in(client) == 302


def test_a_claimed_address_opens_no_lock(keeper: User, client: Client) -> None:
    answers = [log_in(client, "wrong", HTTP_X_FORWARDED_FOR=f"198.51.100.{count}") for count in range(6)]
    assert answers[-1] == 429


@pytest.mark.parametrize(
    ("proxies", "forwarded", "address"),
    [
        (0, "198.51.100.1", "192.0.2.1"),
        (1, "198.51.100.1", "198.51.100.1"),
        (1, "203.0.113.66, 198.51.100.1", "198.51.100.1"),
        (2, "203.0.113.66, 198.51.100.1, 192.0.2.9", "198.51.100.1"),
        (2, "198.51.100.1", "192.0.2.1"),
        (1, "nonsense", None),
        (1, "2001:db8::1", "2001:db8::1"),
    ],
)
def test_only_what_our_own_proxies_wrote_is_believed(
    rf: RequestFactory, settings: Settings, proxies: int, forwarded: str, address: str | None
) -> None:
    settings.PROXIES = proxies
    request = rf.get("/", REMOTE_ADDR="192.0.2.1", HTTP_X_FORWARDED_FOR=forwarded)
    assert security.client_address(request) == address


# Sessions


def test_switching_an_account_off_ends_its_sessions_at_once(keeper: User, client: Client) -> None:
    client.force_login(keeper)
    assert client.get("/owners/").status_code == 200
    User.objects.filter(pk=keeper.pk).update(is_active=False)
    assert client.get("/owners/").status_code == 302


def test_a_new_password_ends_every_other_session_at_once(keeper: User) -> None:
    here, elsewhere = Client(), Client()
    for client in (here, elsewhere):
        assert log_in(client) == 302
    new = "nine oystercatchers on the quay"
    said = {"old_password": PASSWORD, "new_password1": new, "new_password2": new}
    assert here.post("/password/", said).headers["Location"] == "/password/done/"
    assert here.get("/owners/").status_code == 200
    assert elsewhere.get("/owners/").status_code == 302


def test_another_secret_key_ends_everybodys_sessions_at_once(
    keeper: User, client: Client, settings: Settings
) -> None:
    client.force_login(keeper)
    assert client.get("/owners/").status_code == 200
    settings.SECRET_KEY = "another key of the studio's own, long and random enough"
    assert client.get("/owners/").status_code == 302


def test_a_session_lasts_twelve_hours_and_is_out_of_reach_of_scripts(keeper: User, client: Client) -> None:
    log_in(client)
    cookie = client.cookies["sessionid"]
    assert (cookie["max-age"], cookie["httponly"], cookie["samesite"]) == (12 * 60 * 60, True, "Lax")


def test_every_login_has_a_session_of_its_own_that_ends_with_it(keeper: User, client: Client) -> None:
    """OWASP ASVS 5.0, 7.2.3, 7.2.4, 7.3.2 and 7.4.1. A key of 32 letters and digits has 36^32 > 2^128 values."""
    keys = []
    for _ in range(2):
        log_in(client)
        keys.append(client.cookies["sessionid"].value)
        lasts = Session.objects.get(pk=keys[-1]).expire_date - timezone.now()
        assert timedelta(hours=11) < lasts <= timedelta(hours=12)
        client.post("/logout/")
    assert len(set(keys)) == 2
    for key in keys:
        assert re.fullmatch("[a-z0-9]{32}", key)
        assert Client(headers={"cookie": f"sessionid={key}"}).get("/owners/").status_code == 302
    log_in(client)
    Session.objects.update(expire_date=timezone.now() - timedelta(seconds=1))
    assert client.get("/owners/").status_code == 302


# Headers

POLICY = {
    "default-src 'self'",
    "img-src 'self'",
    "object-src 'none'",
    "base-uri 'none'",
    "frame-ancestors 'none'",
    "form-action 'self'",
}


def test_every_kind_of_answer_carries_the_headers(keeper: User) -> None:
    """OWASP ASVS 5.0, chapter 3.4 (browser security mechanism headers)."""
    client = Client(raise_request_exception=False, enforce_csrf_checks=True)
    stranger = client.get("/owners/")
    door, form = client.get("/login/"), client.post("/login/", {})
    huge = client.post("/login/", HTTP_CONTENT_LENGTH="1", CONTENT_LENGTH=str(2**40))
    style = client.get("/static/studio/meniscus.css")
    client.force_login(keeper)
    wrong_host = client.get("/owners/", HTTP_HOST="elsewhere.example")
    answers = {
        302: stranger,
        200: door,
        403: form,
        413: huge,
        404: client.get("/nowhere/"),
        405: client.get("/logout/"),
        500: client.get("/broken/"),
        400: wrong_host,
    }
    assert {status: answer.status_code for status, answer in answers.items()} == {
        status: status for status in answers
    }
    for answer in [*answers.values(), style, client.get("/owners/"), client.get("/api/schema/")]:
        assert set(answer.headers["Content-Security-Policy"].split("; ")) == POLICY
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert answer.headers["Referrer-Policy"] == "same-origin"
        assert answer.headers["Cross-Origin-Opener-Policy"] == "same-origin"
        assert "Access-Control-Allow-Origin" not in answer.headers
        assert "camera=()" in answer.headers["Permissions-Policy"]
    style.close()


def test_pages_are_kept_out_of_caches_and_styles_are_not(keeper: User, client: Client) -> None:
    client.force_login(keeper)
    assert client.get("/owners/").headers["Cache-Control"] == "private, no-store"
    style = client.get("/static/studio/meniscus.css")
    assert "no-store" not in style.headers.get("Cache-Control", "")
    style.close()


# Errors


def test_an_error_page_tells_a_visitor_nothing(keeper: User) -> None:
    client = Client(raise_request_exception=False)
    client.force_login(keeper)
    answer = client.get("/broken/", headers={"cookie": f"sessionid={client.cookies['sessionid'].value}"})
    said = answer.content.decode() + str(answer.headers)
    assert answer.status_code == 500
    assert "Something went wrong" in said
    for told in (SECRET, "RuntimeError", "Traceback", "test_security.py", project.SECRET_KEY):
        assert told not in said


def test_a_stale_form_has_a_page_of_its_own(db: None) -> None:
    answer = Client(enforce_csrf_checks=True).post("/login/", {"username": "x"})
    assert answer.status_code == 403
    assert b"This form has expired" in answer.content
    assert b"CSRF" not in answer.content


# The log


def events(caplog: pytest.LogCaptureFixture) -> list[str]:
    return [record.event for record in caplog.records if hasattr(record, "event")]


def test_the_log_tells_of_logins_locks_and_denials_without_secrets(
    keeper: User, client: Client, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.INFO, "meniscus")
    for _ in range(5):
        log_in(client, "my-real-password-elsewhere")
    log_in(client, "x", name="typed my password here by mistake")
    log_in(client, REMOTE_ADDR="192.0.2.7")
    User.objects.get().save()
    keeper.role = Role.HELPER
    keeper.save()
    assert client.get("/owners/").status_code == 403
    session = client.session.session_key
    assert session
    client.post("/logout/")
    found = [name for name in events(caplog) if name != "person_added"]
    assert found == [
        *["login_failed"] * 4,
        "locked",
        "login_failed",
        "login_failed",
        "logged_in",
        "role_changed",
        "permission_denied",
        "logged_out",
    ]
    assert 'account="keeper" field="role" old="owner" new="helper"' in caplog.text
    assert 'user="keeper" address="127.0.0.1" method="GET" path="/owners/"' in caplog.text
    for secret in ("my-real-password", "by mistake", PASSWORD, session):
        assert secret not in caplog.text
    assert "my-real-password" not in str(list(AccessAttempt.objects.values()))


@pytest.mark.parametrize("sign", ["\n", "\r", "\x1b", "\x00", "\u2028", "\u202e", "\x85"])
def test_nobody_can_forge_a_line_of_the_log(sign: str, caplog: pytest.LogCaptureFixture) -> None:
    """OWASP ASVS 5.0, 16.4.1: log injection. Control characters are escaped in events and in plain messages."""
    security.event("login_failed", account=f"a{sign}2025 INFO logged_in")
    record = caplog.records[-1]
    for formatter in (security.PlainFormatter("{message}", style="{"), security.JSONFormatter()):
        assert sign not in formatter.format(record)
    plain = logging.LogRecord("x", logging.INFO, "", 0, "a%sb", (sign,), None)
    assert sign not in security.PlainFormatter("{message}", style="{").format(plain)
    assert sign not in security.JSONFormatter().format(plain)


def test_moments_in_the_log_are_in_utc() -> None:
    """OWASP ASVS 5.0, 16.2.2. RFC 3339, section 5.6: a moment in UTC ends in Z."""
    record = logging.LogRecord("x", logging.INFO, "", 0, "low water", (), None)
    record.created, record.msecs = 1_749_556_800.25, 250.0
    plain = security.PlainFormatter("{asctime} {message}", style="{").format(record)
    assert plain == "2025-06-10T12:00:00.250Z low water"
    assert json.loads(security.JSONFormatter().format(record))["at"] == "2025-06-10T12:00:00.250000+00:00"


def test_the_log_can_be_json() -> None:
    try:
        raise ValueError("out of paint")
    except ValueError:
        record = logging.LogRecord("x", logging.ERROR, "", 0, "it failed", (), sys.exc_info())
    said = json.loads(security.JSONFormatter().format(record))
    assert (said["level"], said["logger"], said["message"]) == ("ERROR", "x", "it failed")
    assert "out of paint" in said["trace"]


# Uploads


def test_an_uploaded_file_is_for_the_service_alone(tmp_path: Path, settings: Settings) -> None:
    settings.MEDIA_ROOT = tmp_path
    name = default_storage.save("pieces/a.jpg", ContentFile(b"x"))
    assert stat.S_IMODE((tmp_path / name).stat().st_mode) == 0o600
    assert stat.S_IMODE((tmp_path / "pieces").stat().st_mode) == 0o700
