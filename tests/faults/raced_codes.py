"""Ten browsers whose password was right send one code at the same moment: one of them is let in, nine are told no.

A code works once (RFC 6238, 5.2). The web server has threads, so connections to the database are opened, left and
taken up again while others write.
"""

import threading
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from http import HTTPStatus
from typing import Any
from urllib.parse import urlencode

from django.conf import settings
from django.contrib.sessions.backends.db import SessionStore
from django.contrib.sessions.models import Session
from django.test import RequestFactory
from django_otp.plugins.otp_totp.models import TOTPDevice

from studio.accounts.models import Role
from studio.accounts.views.login import await_code
from tests.factories import UserFactory
from tests.faults.double_clicks import warm_up
from tests.faults.jobs import Meet, Say, Tally
from tests.faults.real_databases import RealDatabase
from tests.faults.web_server import Answer, ask, web_server
from tests.studio.accounts.two_factor.phones import totp

AT_A_TIME = 20  # owners: whoever has given the password is let in within five minutes
CSRF = "c" * 32


@dataclass(frozen=True)
class Race:
    """An owner's key for codes, and the sessions of browsers that await one."""

    owner: int
    key: bytes
    sessions: tuple[str, ...]


def raced_codes(database: RealDatabase, *, rounds: int, browsers: int = 10) -> Tally:
    """Each round is another owner, signing in from an address of her own: guesses are counted by both."""
    tally, ready = Tally(), threading.Barrier(browsers)
    with (
        web_server(database, threads=8, MENISCUS_PROXIES="1") as (_server, port),
        ThreadPoolExecutor(browsers) as pool,
    ):
        warm_up(port)
        for first in range(0, rounds, AT_A_TIME):
            count = min(AT_A_TIME, rounds - first)
            races: list[Race] = database.do(half_sign_in, first=first, count=count, browsers=browsers)
            for number, race in enumerate(races, first):
                _run(tally, pool, ready, port, number, race)
            signed_in: list[int] = database.do(sessions_of_each, owners=[race.owner for race in races])
            assert signed_in == [1] * count
    assert tally.errors == [], tally.errors[:5]
    assert (tally.posted, tally.refused) == (rounds, rounds * (browsers - 1))
    return tally


def _run(
    tally: Tally, pool: ThreadPoolExecutor, ready: threading.Barrier, port: int, number: int, race: Race
) -> None:
    code = totp(race.key, int(time.time()))
    headers = {
        "Content-Type": "application/x-www-form-urlencoded",
        "X-CSRFToken": CSRF,
        "X-Forwarded-For": f"192.0.2.{number % 254 + 1}" if number < 254 else f"2001:db8:{number:x}::1",
    }

    def send(session: str) -> tuple[Answer, float]:
        ready.wait()
        started = time.monotonic()
        cookies = {"Cookie": f"sessionid={session}; csrftoken={CSRF}"}
        answer = ask(port, "/login/code/", urlencode({"code": code}), headers | cookies)
        return answer, time.monotonic() - started

    for answer, waited in pool.map(send, race.sessions):
        tally.worst_wait = max(tally.worst_wait, waited)
        if answer.status == HTTPStatus.FOUND:
            tally.posted += 1
        elif answer.status in (HTTPStatus.UNPROCESSABLE_ENTITY, HTTPStatus.TOO_MANY_REQUESTS):
            tally.refused += 1
        else:
            tally.errors.append(f"{answer.status}: {answer.text[:300]}")


# What the workers do


def half_sign_in(*, first: int, count: int, browsers: int, say: Say, meet: Meet) -> list[Race]:
    """So many owners with a phone, each of whom has given her password in so many browsers."""
    races = []
    for number in range(first, first + count):
        owner = UserFactory.create(username=f"owner {number}", role=Role.OWNER)
        owner.backend = settings.AUTHENTICATION_BACKENDS[-1]
        phone = TOTPDevice.objects.create(user=owner, name="phone", confirmed=True)
        sessions = tuple(_half_in(owner) for _browser in range(browsers))
        races.append(Race(owner.pk, phone.bin_key, sessions))
    return races


def _half_in(owner: Any) -> str:
    request = RequestFactory().get("/login/")
    request.session = SessionStore()
    await_code(request, owner, to="")
    request.session.save()
    return str(request.session.session_key)


def sessions_of_each(*, owners: list[int], say: Say, meet: Meet) -> list[int]:
    """How many browsers each owner is signed in with."""
    signed_in = [session.get_decoded().get("_auth_user_id") for session in Session.objects.all()]
    return [signed_in.count(str(owner)) for owner in owners]
