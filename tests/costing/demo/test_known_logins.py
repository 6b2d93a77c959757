"""In production the demo is not taken for a real studio: its database is refused, and so are its passwords."""

import logging
import os
import subprocess
import sys
from pathlib import Path
from secrets import token_urlsafe
from typing import Any

import pytest
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ImproperlyConfigured, ValidationError
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse
from pytest_django import Settings

from costing.demo.people import PEOPLE
from studio.accounts.models import User
from studio.operations.checks import refuse_unsafe_books
from studio.preferences.models import Studio

pytestmark = pytest.mark.django_db
PHRASES = [person.phrase for person in PEOPLE]
OWN = "nine-jars-of-low-tide"
MARKED = """
import django
django.setup()
from django.core.management import call_command
from studio.preferences.models import Studio
call_command("migrate", verbosity=0)
Studio.objects.update(is_demo=True)
"""


@pytest.fixture
def demo() -> None:
    Studio.objects.update(is_demo=True)


@pytest.mark.usefixtures("demo")
def test_in_production_the_demos_database_is_not_served_unless_asked_for(settings: Settings) -> None:
    refuse_unsafe_books()
    settings.PRODUCTION = True
    with pytest.raises(ImproperlyConfigured, match="set MENISCUS_DATA to an empty folder") as refusal:
        refuse_unsafe_books()
    assert "MENISCUS_DEMO=1" in str(refusal.value)
    settings.DEMO = True
    refuse_unsafe_books()


def test_in_production_another_database_is_served(settings: Settings) -> None:
    settings.PRODUCTION = True
    refuse_unsafe_books()


@pytest.mark.usefixtures("demo")
def test_serve_says_so_before_it_opens_a_port(settings: Settings, monkeypatch: pytest.MonkeyPatch) -> None:
    settings.PRODUCTION = True
    monkeypatch.setattr("studio.management.commands.serve.restart_with_settings", lambda *given: None)
    monkeypatch.setattr(
        "studio.management.commands.serve.serve", lambda *given, **more: pytest.fail("served")
    )
    with pytest.raises(CommandError, match="This database holds the demo"):
        call_command("serve", lan="192.168.1.20", verbosity=0)


def test_a_server_does_not_start_on_the_demos_database(tmp_path: Path) -> None:
    books = f"sqlite:///{tmp_path}/books.sqlite3"
    usual = {
        name: value for name, value in os.environ.items() if not name.startswith(("MENISCUS_", "DJANGO_"))
    }
    usual |= {
        "DATABASE_URL": books,
        "MENISCUS_DATA": str(tmp_path),
        "DJANGO_SETTINGS_MODULE": "studio.settings",
    }
    assert run(MARKED, usual).returncode == 0
    real = usual | {"MENISCUS_PRODUCTION": "1", "MENISCUS_SECRET_KEY": token_urlsafe(60)}
    refused, served = (
        run("import studio.wsgi", real),
        run("import studio.wsgi", real | {"MENISCUS_DEMO": "1"}),
    )
    assert refused.returncode == 1
    assert "Not starting: This database holds the demo" in refused.stderr
    assert served.returncode == 0, served.stderr


def run(code: str, environment: dict[str, str]) -> "subprocess.CompletedProcess[str]":
    command = [sys.executable, "-W", "ignore", "-c", code]
    root = Path(__file__).parents[3]
    return subprocess.run(command, env=environment, cwd=root, capture_output=True, text=True, check=False)


@pytest.mark.parametrize("person", PEOPLE, ids=lambda person: person.username)
@pytest.mark.parametrize("is_asked_for", [False, True])
def test_in_production_the_demos_passwords_open_nothing_whoever_has_one(
    settings: Settings, caplog: pytest.LogCaptureFixture, person: Any, is_asked_for: bool
) -> None:
    caplog.set_level(logging.INFO, "meniscus")
    for name in (person.username, "wren"):
        User.objects.create_user(name, password=person.phrase, role=person.role)
    settings.PRODUCTION, settings.DEMO = True, is_asked_for
    for name in (person.username, "wren"):
        client = Client()
        answer: Any = client.post(reverse("login"), {"username": name, "password": person.phrase})
        assert answer.status_code == 200
        assert "manage.py changepassword" in answer.content.decode()
        assert "_auth_user_id" not in client.session
    found = [record.event for record in caplog.records if hasattr(record, "event")]
    assert found[-4:] == ["public_password", "login_failed"] * 2
    assert person.phrase not in caplog.text


def test_the_demo_on_the_network_says_where_its_new_passwords_are(settings: Any) -> None:
    settings.PRODUCTION = settings.DEMO = settings.ON_LAN = True
    person = PEOPLE[0]
    User.objects.create_user(person.username, password=person.phrase, role=person.role)
    sent = {"username": person.username, "password": person.phrase}
    answer: Any = Client().post(reverse("login"), sent)
    assert "manage.py demo --lan" in answer.content.decode()


def test_in_production_another_password_opens_what_it_should(settings: Settings) -> None:
    User.objects.create_user("wren", password=OWN)
    settings.PRODUCTION = True
    assert Client().post(reverse("login"), {"username": "wren", "password": OWN}).status_code == 302


def test_elsewhere_the_demos_passwords_open_the_demo() -> None:
    User.objects.create_user("wren", password=PHRASES[0])
    assert Client().post(reverse("login"), {"username": "wren", "password": PHRASES[0]}).status_code == 302


@pytest.mark.parametrize("phrase", PHRASES)
def test_nobody_can_choose_one_of_them_for_a_studio_of_their_own(phrase: str) -> None:
    with pytest.raises(ValidationError, match="Choose one of your own"):
        validate_password(phrase)
    Studio.objects.update(is_demo=True)
    validate_password(phrase)
