"""The second page of the login: a code from the phone, or one from the sheet, once and in time."""

import time
from typing import Any

import pytest
from django.core import signing
from django.test import Client
from django_otp.plugins.otp_totp.models import TOTPDevice

from studio.accounts.actions import reset_password
from studio.accounts.models import User
from tests.studio.accounts.two_factor.phones import (
    PASSWORD,
    Phone,
    code_given,
    is_in,
    password_given,
    switched_on,
    totp,
)

pytestmark = pytest.mark.django_db

# RFC 6238, Appendix B, the rows for SHA-1: seconds since 1970, and the eight digits. The key is twenty bytes of ASCII.
RFC_KEY = b"12345678901234567890"
RFC_6238 = [
    (59, "94287082"),
    (1111111109, "07081804"),
    (1111111111, "14050471"),
    (1234567890, "89005924"),
    (2000000000, "69279037"),
    (20000000000, "65353130"),
]


# RFC 6238


@pytest.mark.parametrize(("moment", "published"), RFC_6238)
@pytest.mark.parametrize("digits", [8, 6])
def test_the_login_takes_the_published_codes_and_only_in_their_time(
    keeper: User, phone: Phone, client: Client, moment: int, published: str, digits: int
) -> None:
    """RFC 6238, Appendix B. Six digits are the last six of the eight (RFC 4226, 5.3: the number modulo 10^digits)."""
    TOTPDevice.objects.create(user=keeper, key=RFC_KEY.hex(), digits=digits, confirmed=True)
    password_given(client)
    phone.now = moment + 90
    assert code_given(client, published[-digits:]).status_code == 422
    phone.later()
    phone.now = moment
    assert code_given(client, published[-digits:]).status_code == 302
    assert is_in(client)


@pytest.mark.parametrize(("moment", "published"), RFC_6238)
def test_the_phone_of_these_tests_makes_the_published_codes(moment: int, published: str) -> None:
    """RFC 6238, Appendix B."""
    assert totp(RFC_KEY, moment, digits=8) == published


# In by the front door


def test_the_password_opens_the_second_page_and_nothing_else(sheet: list[str], client: Client) -> None:
    answer = password_given(client)
    assert (answer.status_code, answer.headers["Location"]) == (302, "/login/code/")
    assert "_auth_user_id" not in client.session
    for path in ("/", "/two-factor/", "/settings/", "/backups/", "/password/"):
        assert "/login/?next=" in client.get(path).headers["Location"], path
    assert client.get("/api/materials/").status_code == 401
    assert client.get("/health/ready").content == Client().get("/health/ready").content


def test_the_code_lets_her_in_to_where_she_was_going(
    sheet: list[str], keeper: User, phone: Phone, client: Client
) -> None:
    client.post(
        "/login/?next=/two-factor/", {"username": "keeper", "password": PASSWORD, "next": "/two-factor/"}
    )
    before = client.session.session_key
    answer = code_given(client, phone.code(keeper))
    assert (answer.status_code, answer.headers["Location"]) == (302, "/two-factor/")
    assert client.session.session_key != before
    assert "half_signed_in" not in client.session
    assert client.get("/settings/").status_code == 200


def test_nobody_is_sent_to_a_strangers_site(
    sheet: list[str], keeper: User, phone: Phone, client: Client
) -> None:
    said = {"username": "keeper", "password": PASSWORD, "next": "https://elsewhere.example/"}
    client.post("/login/", said)
    assert code_given(client, phone.code(keeper)).headers["Location"] == "/"


def test_whoever_has_no_codes_is_in_after_the_password(keeper: User, client: Client) -> None:
    assert password_given(client).headers["Location"] == "/"
    assert is_in(client)


@pytest.mark.parametrize("gaps", ["{} {}", " {}{} ", "{}-{}", "{}\u00a0{}"])
def test_a_code_may_be_typed_with_gaps(
    sheet: list[str], keeper: User, phone: Phone, client: Client, gaps: str
) -> None:
    password_given(client)
    code = phone.code(keeper)
    assert code_given(client, gaps.format(code[:3], code[3:])).status_code == 302


def test_a_code_works_once(sheet: list[str], keeper: User, phone: Phone) -> None:
    """OWASP ASVS 5.0, 6.5.1: one-time codes are used at most once."""
    code, first, second = phone.code(keeper), Client(), Client()
    for client, status in ((first, 302), (second, 422)):
        password_given(client)
        assert code_given(client, code).status_code == status
    assert not is_in(second)


@pytest.mark.parametrize(("steps", "status"), [(-2, 422), (-1, 302), (0, 302), (1, 302), (2, 422)])
def test_a_clock_may_be_half_a_minute_wrong_and_no_more(
    sheet: list[str], keeper: User, phone: Phone, client: Client, steps: int, status: int
) -> None:
    phone.later(5)
    password_given(client)
    assert code_given(client, phone.code(keeper, steps=steps)).status_code == status


@pytest.mark.parametrize(
    "typed", ["", "12345", "1234567", "abcdef", "１２３４５６", "٣٣٣٣٣٣", "-12345", "1e5", "\x00", "9" * 60]
)
def test_what_is_no_code_is_refused(sheet: list[str], client: Client, typed: str) -> None:
    password_given(client)
    assert code_given(client, typed).status_code == 422
    assert "_auth_user_id" not in client.session


# Half signed in


def test_the_code_must_come_within_five_minutes(
    sheet: list[str], keeper: User, phone: Phone, client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    password_given(client)
    real = time.time
    monkeypatch.setattr(time, "time", lambda: real() + 299)
    assert client.get("/login/code/").status_code == 200
    monkeypatch.setattr(time, "time", lambda: real() + 302)
    answer: Any = client.post("/login/code/", {"code": phone.code(keeper)}, follow=True)
    assert "within five minutes" in answer.content.decode()
    assert "_auth_user_id" not in client.session


def test_the_second_page_opens_to_nobody_without_a_password(
    sheet: list[str], keeper: User, phone: Phone
) -> None:
    for client in (Client(), Client()):
        for answer in (client.get("/login/code/"), code_given(client, phone.code(keeper))):
            assert (answer.status_code, answer.headers["Location"]) == (302, "/login/")


def test_a_note_that_is_not_ours_opens_nothing(
    sheet: list[str], keeper: User, phone: Phone, client: Client
) -> None:
    password_given(client)
    said = {"user": keeper.pk, "backend": "django.contrib.auth.backends.ModelBackend", "hash": "", "to": ""}
    for note in ("", "x", signing.dumps(said), signing.dumps(said, salt="studio.accounts.login")):
        session = client.session
        session["half_signed_in"] = note
        session.save()
        assert code_given(client, phone.code(keeper)).headers["Location"] == "/login/"


@pytest.mark.parametrize("change", ["password", "switched off"])
def test_what_changes_meanwhile_ends_the_half_done_login(
    sheet: list[str], keeper: User, phone: Phone, client: Client, change: str
) -> None:
    password_given(client)
    keeper.set_password("nine oystercatchers on the quay")
    keeper.is_active = change == "password"
    keeper.save()
    assert code_given(client, phone.code(keeper)).headers["Location"] == "/login/"


def test_a_code_opens_its_own_account_and_no_other(sheet: list[str], phone: Phone, client: Client) -> None:
    second = User.objects.create_user("second", password=PASSWORD)
    hers = Client()
    hers.force_login(second)
    her_sheet = switched_on(hers, second, phone)
    password_given(client)
    assert code_given(client, phone.code(second)).status_code == 422
    assert code_given(client, her_sheet[0]).status_code == 422


def test_a_password_that_the_owner_gives_leaves_the_code_to_be_asked_for(
    sheet: list[str], keeper: User, client: Client
) -> None:
    """OWASP ASVS 5.0, 6.4.3: a reset goes round no second factor."""
    reset_password(person=keeper, password="nine oystercatchers on the quay", submission=None)
    said = {"username": "keeper", "password": "nine oystercatchers on the quay"}
    assert client.post("/login/", said).headers["Location"] == "/login/code/"
    assert not is_in(client)


# Recovery codes


def test_each_recovery_code_lets_her_in_once(sheet: list[str], client: Client) -> None:
    assert len(set(sheet)) == 10
    password_given(client)
    answer: Any = client.post("/login/code/?recovery", {"code": sheet[3]}, follow=True)
    assert "already been used" in answer.content.decode()
    assert is_in(client)
    again = Client()
    password_given(again)
    assert code_given(again, sheet[3]).status_code == 422
    assert code_given(again, sheet[4]).status_code == 422  # too soon after a wrong one
    assert not is_in(again)


def test_a_recovery_code_may_be_typed_as_it_was_misread(sheet: list[str], phone: Phone) -> None:
    for code in sheet[:5]:
        client = Client()
        password_given(client)
        typed = code.upper().replace(" ", "-").replace("O", "0").replace("L", "1")
        assert code_given(client, typed).status_code == 302
