"""People who sign in: added with a role and a good password, from the settings or from a command."""

from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse

from studio.accounts.actions import PeopleError, add_person, change_person, reset_password, set_active
from studio.accounts.models import Role, User
from studio.errors import InputError
from studio.submission import Submission
from tests.days import AT, TODAY

pytestmark = pytest.mark.django_db
PASSWORD = "a-long-enough-phrase-for-the-loft"


def added(name: str, role: str, password: str = PASSWORD) -> User:
    return add_person(User(username=name, role=role), password=password, submission=None)


def test_a_person_is_added_and_may_sign_in() -> None:
    added("maud", Role.OWNER)
    answer = Client().post(reverse("login"), {"username": "maud", "password": PASSWORD})
    assert answer.status_code == 302


@pytest.mark.parametrize(
    ("name", "password", "role", "field"),
    [
        ("maud", "short", "owner", "password"),
        ("maud", "yfdbufnjh10305070", "owner", "password"),  # on the list of common ones
        ("maudmaudmaudmaud", "maudmaudmaudmaud", "owner", "password"),
        ("", PASSWORD, "owner", "username"),
        ("two words", PASSWORD, "owner", "username"),
        ("maud", PASSWORD, "queen", "role"),
    ],
)
def test_it_refuses_a_name_or_password_that_will_not_do(
    name: str, password: str, role: str, field: str
) -> None:
    with pytest.raises(InputError) as refusal:
        added(name, role, password)
    assert refusal.value.field == field
    assert not User.objects.exists()


def test_it_refuses_a_name_that_is_taken() -> None:
    added("maud", "owner")
    with pytest.raises(InputError) as refusal:
        added("maud", "helper")
    assert refusal.value.field == "username"


def test_the_first_person_may_be_anybody_but_the_last_owner_stays() -> None:
    added("wren", "helper")
    maud = added("maud", "owner")
    maud.role = Role.HELPER
    with pytest.raises(PeopleError):
        change_person(maud, submission=None)
    assert User.objects.get(pk=maud.pk).is_owner
    added("una", "owner")
    assert not change_person(maud, submission=None).is_owner


def test_a_second_owner_who_is_deactivated_does_not_count() -> None:
    maud, una = added("maud", "owner"), added("una", "owner")
    set_active(person=una, is_active=False, submission=None)
    with pytest.raises(PeopleError):
        set_active(person=maud, is_active=False, submission=None)
    assert User.objects.get(pk=maud.pk).is_active


def test_nobody_resets_their_own_password() -> None:
    maud = added("maud", "owner")
    with pytest.raises(PeopleError):
        reset_password(person=maud, password=PASSWORD + "!", submission=Submission(maud, AT, TODAY))
    assert User.objects.get(pk=maud.pk).check_password(PASSWORD)


def test_the_command_takes_the_password_from_the_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("MENISCUS_NEW_PASSWORD", PASSWORD)
    out = StringIO()
    call_command("add_person", "maud", "--role", "owner", "--email", "maud@example.org", stdout=out)
    assert "maud can now log in as owner." in out.getvalue()
    made = User.objects.get()
    assert (made.role, made.email, made.check_password(PASSWORD)) == ("owner", "maud@example.org", True)


def test_the_command_says_what_is_wrong_and_adds_nobody(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("MENISCUS_NEW_PASSWORD", "short")
    with pytest.raises(CommandError, match="at least 15 characters"):
        call_command("add_person", "maud")
    monkeypatch.delenv("MENISCUS_NEW_PASSWORD")
    with pytest.raises(CommandError, match="No terminal to type a password in"):
        call_command("add_person", "maud")
    assert not User.objects.exists()


def test_the_command_asks_twice(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("MENISCUS_NEW_PASSWORD", raising=False)
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    answers = iter([PASSWORD, PASSWORD + "x"])
    monkeypatch.setattr("studio.management.commands.add_person.getpass", lambda _: next(answers))
    with pytest.raises(CommandError, match="differ"):
        call_command("add_person", "maud")


def test_an_owner_reaches_the_settings_from_the_navigation() -> None:
    client = Client()
    client.force_login(added("maud", "owner"))
    assert f'href="{reverse("settings")}"' in client.get(reverse("home")).content.decode()
    assert client.get(reverse("settings")).status_code == 200


def test_the_command_says_so_while_nobody_is_the_owner(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("MENISCUS_NEW_PASSWORD", PASSWORD)
    said = {}
    for name, role in (("wren", "helper"), ("maud", "owner"), ("una", "helper")):
        call_command("add_person", name, "--role", role, stdout=(out := StringIO()))
        said[name] = "There is no owner yet" in out.getvalue()
    assert said == {"wren": True, "maud": False, "una": False}
