"""Guessing slowly, from many addresses or at many names, is stopped too; nobody is locked out of a known device."""

from itertools import product
from typing import Any

import pytest
from axes.handlers.database import AxesDatabaseHandler
from axes.models import AccessAttempt
from django.contrib.auth.backends import ModelBackend
from django.core import signing
from django.db import IntegrityError
from django.http import HttpRequest
from django.test import Client, RequestFactory
from pytest_django import Settings

from studio.accounts.login_limits import (
    COOKIE,
    MOST_PEOPLE,
    MOST_PER_ADDRESS,
    MOST_PER_NAME,
    SALT,
    guessing_address,
)
from studio.accounts.models import User

pytestmark = pytest.mark.django_db

PASSWORD = "harbour-wall-at-seven"
MOST_CHECKED = 20  # at one account within ten minutes, of a thousand guesses


@pytest.fixture
def keeper(db: None) -> User:
    return User.objects.create_user("keeper", password=PASSWORD)


@pytest.fixture
def checked(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The names whose passwords were looked at."""
    names: list[str] = []
    check = ModelBackend.authenticate

    def noting(backend: ModelBackend, request: HttpRequest | None, username: str, **given: str) -> object:
        names.append(username)
        return check(backend, request, username, **given)

    monkeypatch.setattr(ModelBackend, "authenticate", noting)
    return names


def guess(
    client: Client, password: str = "wrong", *, name: str = "keeper", address: str = "192.0.2.1"
) -> int:
    said = {"username": name, "password": password}
    return client.post("/login/", said, REMOTE_ADDR=address).status_code


def lock_the_name() -> None:
    for number in range(MOST_PER_NAME):
        guess(Client(), address=f"192.0.2.{number}")


def test_guesses_at_one_name_from_many_addresses_are_hardly_ever_checked(
    keeper: User, checked: list[str]
) -> None:
    """OWASP ASVS 5.0, 6.3.1: controls against credential stuffing and password brute force."""
    for block, number in product((2, 100, 113), range(50)):
        guess(Client(), address=f"203.{block}.0.{number}")
    assert len(checked) <= MOST_CHECKED
    assert guess(Client(), PASSWORD, address="198.51.100.7") == 429


def test_guesses_at_many_names_from_one_address_are_hardly_ever_checked(
    keeper: User, checked: list[str]
) -> None:
    for number in range(100):
        guess(Client(), name=f"name {number}")
    assert len(checked) == MOST_PER_ADDRESS
    assert guess(Client(), PASSWORD) == 429
    assert guess(Client(), PASSWORD, address="198.51.100.7") == 302


def test_nobody_locks_an_owner_out_of_a_device_where_she_has_logged_in(keeper: User) -> None:
    hers = Client()
    assert guess(hers, PASSWORD) == 302
    hers.post("/logout/")
    lock_the_name()
    for number in range(MOST_PER_ADDRESS):  # somebody in the same house guesses too
        guess(Client(), name=f"name {number}")
    assert guess(Client(), PASSWORD) == 429
    assert guess(hers, PASSWORD) == 302


def test_a_known_device_has_five_guesses_of_its_own(keeper: User) -> None:
    hers = Client()
    guess(hers, PASSWORD)
    hers.post("/logout/")
    assert [guess(hers, address=f"192.0.2.{number}") for number in range(5)] == [200] * 4 + [429]
    assert guess(hers, PASSWORD) == 429
    assert guess(Client(), PASSWORD, address="192.0.2.9") == 302


def test_a_device_is_known_to_those_alone_who_have_logged_in_on_it(keeper: User) -> None:
    second = User.objects.create_user("second", password=PASSWORD)
    theirs = Client()
    guess(theirs, PASSWORD, name=second.username)
    theirs.post("/logout/")
    lock_the_name()
    assert guess(theirs, PASSWORD) == 429
    assert guess(theirs, PASSWORD, name=second.username, address="192.0.2.77") == 302


def test_the_last_few_people_of_a_shared_device_are_remembered(keeper: User) -> None:
    shared = Client()
    for number in range(MOST_PEOPLE + 1):
        User.objects.create_user(f"person{number}", password=PASSWORD)
        guess(shared, PASSWORD, name=f"person{number}", address=f"192.0.2.{number}")
        shared.post("/logout/")
    _device, names = signing.loads(shared.cookies[COOKIE].value, salt=SALT)
    assert names == [f"person{number}" for number in range(MOST_PEOPLE, 0, -1)]


def test_the_cookie_of_a_known_device_is_out_of_reach_of_scripts(keeper: User, settings: Settings) -> None:
    settings.SESSION_COOKIE_SECURE = True
    hers = Client()
    guess(hers, PASSWORD)
    cookie = hers.cookies[COOKIE]
    said = [cookie[name] for name in ("secure", "httponly", "samesite", "path", "domain")]
    assert said == [True, True, "Lax", "/", ""]


@pytest.mark.parametrize(
    "forged",
    ["", "keeper", '["x", ["keeper"]]', signing.dumps(["x", ["keeper"]])],
    ids=["empty", "a name", "unsigned", "signed for something else"],  # the last says when it was signed
)
def test_a_forged_cookie_makes_no_device_known(keeper: User, forged: str) -> None:
    lock_the_name()
    client = Client()
    client.cookies[COOKIE] = forged
    assert guess(client, PASSWORD) == 429


def test_no_name_of_a_browser_takes_a_guess_out_of_the_count(keeper: User) -> None:
    hers = Client()
    guess(hers, PASSWORD)
    device, _names = signing.loads(hers.cookies[COOKIE].value, salt=SALT)
    for number in range(MOST_PER_NAME):
        said = {"username": "keeper", "password": "wrong"}
        Client().post("/login/", said, REMOTE_ADDR=f"192.0.2.{number}", HTTP_USER_AGENT=device)
    assert guess(Client(), PASSWORD, address="198.51.100.7") == 429


@pytest.mark.parametrize(
    ("address", "counted"),
    [
        ("192.0.2.7", "192.0.2.7"),
        ("2001:db8:1:2:3:4:5:6", "2001:db8:1:2::"),  # RFC 4291 section 2.5.4: a subnet's prefix has 64 bits
        ("2001:db8:1:2:ffff::1", "2001:db8:1:2::"),
        ("nowhere", None),
    ],
)
def test_an_ipv6_address_is_counted_by_its_subnet(
    rf: RequestFactory, address: str, counted: str | None
) -> None:
    assert guessing_address(rf.get("/", REMOTE_ADDR=address)) == counted


def test_moving_within_an_ipv6_subnet_opens_no_lock(keeper: User) -> None:
    answers = [guess(Client(), address=f"2001:db8::{number}") for number in range(1, 7)]
    assert answers[-1] == 429
    assert AccessAttempt.objects.count() == 1


def test_a_wrong_guess_is_counted_though_a_success_at_the_same_moment_forgave_the_row_before(
    keeper: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    count, failures = AxesDatabaseHandler.user_login_failed, [IntegrityError("duplicate key")]

    def count_at_last(*arguments: Any, **facts: Any) -> None:
        if failures:
            raise failures.pop()
        count(*arguments, **facts)

    monkeypatch.setattr(AxesDatabaseHandler, "user_login_failed", count_at_last)
    assert guess(Client()) < 500
    assert AccessAttempt.objects.get().failures_since_start == 1
