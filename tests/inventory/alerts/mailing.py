"""The command that emails, run on a day of the story."""

from collections.abc import Callable
from datetime import date, datetime
from io import StringIO
from typing import Any

import pytest
from django.core.mail.backends.base import BaseEmailBackend
from django.core.management import call_command
from django.utils import timezone

from inventory.materials.models import Material
from studio.accounts.models import User
from tests.days import AT, TODAY
from tests.making import make_material, make_owner, units

BENCH, LOFT = "bench@wrackline.example", "loft@wrackline.example"


def a_low_material(**facts: Any) -> Material:
    """Nothing is left of it."""
    return make_material(reorder_level=units(100), **facts)


def with_address(user: User, address: str) -> User:
    User.objects.filter(pk=user.pk).update(email=address)
    user.email = address
    return user


@pytest.fixture
def owners_address(db: None) -> str:
    return with_address(make_owner(), "nell@wrackline.example").email


@pytest.fixture
def on_day(monkeypatch: pytest.MonkeyPatch) -> Callable[[date], None]:
    """Let the command run at half past two on a day: TODAY until another is said."""

    def travel(day: date) -> None:
        monkeypatch.setattr(timezone, "now", lambda: datetime.combine(day, AT.timetz()))

    travel(TODAY)
    return travel


def send(*options: str) -> str:
    told = StringIO()
    call_command("send_alerts", *options, stdout=told)
    return told.getvalue().replace("\xa0", " ")


class BrokenServer(BaseEmailBackend):
    def send_messages(self, email_messages: Any) -> int:
        raise ConnectionRefusedError("the mail server is asleep")
