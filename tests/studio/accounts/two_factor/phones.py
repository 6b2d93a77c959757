"""A phone that makes codes: RFC 6238 written out again from its text, so that the library is held against it."""

import hashlib
import hmac
from datetime import timedelta
from types import SimpleNamespace
from typing import Any

import pytest
from django.test import Client
from django_otp.plugins.otp_static.models import StaticDevice
from django_otp.plugins.otp_totp import models as library
from django_otp.plugins.otp_totp.models import TOTPDevice

from studio.accounts.models import User

PASSWORD = "seven herons over the slipway"
STEP = 30
BEGINNING = 1_750_000_020  # some moment at the start of a step


class Phone:
    """The clock on the wall, and the app that reads it. The library reads the same clock."""

    def __init__(self, patch: pytest.MonkeyPatch) -> None:
        self.now = BEGINNING
        patch.setattr(library, "time", SimpleNamespace(time=lambda: self.now))

    def code(self, user: User, *, steps: int = 0) -> str:
        """What the app shows, or showed so many steps of half a minute ago."""
        key = bytes.fromhex(TOTPDevice.objects.get(user=user).key)
        return totp(key, self.now + steps * STEP)

    def later(self, steps: int = 1) -> None:
        """Let the code change, and let whoever typed a wrong one have waited long enough."""
        self.now += steps * STEP
        for model in (TOTPDevice, StaticDevice):
            for device in model.objects.exclude(throttling_failure_timestamp=None):
                device.throttling_failure_timestamp -= timedelta(seconds=steps * STEP)
                device.save()


def totp(key: bytes, at: int, digits: int = 6) -> str:
    """RFC 6238, 4.2, with the truncation of RFC 4226, 5.3."""
    digest = hmac.new(key, (at // STEP).to_bytes(8), hashlib.sha1).digest()
    offset = digest[-1] & 0xF
    number = int.from_bytes(digest[offset : offset + 4]) & 0x7FFFFFFF
    return f"{number % 10**digits:0{digits}d}"


def switched_on(client: Client, user: User, phone: Phone) -> list[str]:
    """Switch codes on through the pages; the recovery codes that were shown. Afterwards the code has changed."""
    assert client.post("/two-factor/begin/", {"password": PASSWORD}).status_code == 302
    answer: Any = client.post("/two-factor/confirm/", {"code": phone.code(user)})
    assert answer.status_code == 200
    phone.later()
    fresh: list[str] = answer.context["fresh"]
    return fresh


def password_given(client: Client, *, name: str = "keeper", **headers: str) -> Any:
    """The first page of the login."""
    return client.post("/login/", {"username": name, "password": PASSWORD}, **headers)  # type: ignore[arg-type]


def code_given(client: Client, code: str, **headers: str) -> Any:
    """The second page of the login."""
    return client.post("/login/code/", {"code": code}, **headers)  # type: ignore[arg-type]


def is_in(client: Client) -> bool:
    """Whether this browser is signed in."""
    return client.get("/password/").status_code == 200
