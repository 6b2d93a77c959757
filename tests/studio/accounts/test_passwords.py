"""What a password may be: long, of any signs, on no list of common ones; and what a new one ends."""

import re
from datetime import timedelta
from typing import Any

import pytest
from django.contrib.auth.hashers import make_password
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.accounts.actions import reset_password
from studio.accounts.models import Token, TokenScope, User
from studio.accounts.tokens import add_token, token_for
from studio.auditing import chain
from studio.auditing.sealed_rows import Sealed
from studio.preferences.models import Studio

GOOD, BETTER = "seven herons over the slipway", "a-long-enough-phrase-for-the-loft"


@pytest.mark.django_db
@pytest.mark.parametrize(
    "password",
    [
        "password1234567", "Sunshine20242025", "123456789012345", "1234567qwertyuiop!", "dragon!!!!!!!!!!!",
        "passwordpassword", "PasswordPassword1", "  monkey 99999999", "letmeinletmeinletmein",
    ],
)  # fmt: skip
def test_a_common_password_made_longer_is_refused(password: str) -> None:
    with pytest.raises(ValidationError, match="common"):
        validate_password(password)


@pytest.mark.django_db
@pytest.mark.parametrize(
    "password",
    [
        "meniscus-studio-2026",
        "PourPaintPour!12",
        "owner.of.the.studio",
        "wrack & line paint",
        "studio acrylic ab",
    ],
)
def test_words_that_are_tried_first_in_a_studio_are_refused(password: str) -> None:
    """OWASP ASVS 5.0, 6.2.11: the documented words of the context are in no password's way but their own."""
    Studio.objects.update(name="Wrack & Line")
    with pytest.raises(ValidationError, match="tried first in a studio"):
        validate_password(password)


@pytest.mark.django_db
@pytest.mark.parametrize(
    "password",
    [GOOD, BETTER, "correct horse battery staple 7", "tide-table-of-1987-lost", "no studio without a kettle"],
)
def test_a_phrase_of_several_words_is_taken(password: str) -> None:
    validate_password(password)


def token_of(user: User) -> str:
    now = timezone.now()
    return add_token(user=user, name="Till", scope=TokenScope.READ, days=9, at=now - timedelta(hours=1))[1]


@pytest.mark.django_db
def test_a_newer_hash_at_a_login_is_saved_with_its_seal_or_not_at_all(
    helper: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    User.objects.filter(pk=helper.pk).update(password=make_password(GOOD, hasher="pbkdf2_sha256"))
    person = User.objects.get(pk=helper.pk)

    def lose_the_person(part: Sealed, *args: Any, **kwargs: Any) -> None:
        if part.model is User:
            raise ConnectionError

    with monkeypatch.context() as patch:
        patch.setattr(chain, "wrote_part", lose_the_person)
        with pytest.raises(ConnectionError):
            person.check_password(GOOD)
    person.refresh_from_db()
    assert person.password.startswith("pbkdf2_sha256$")
    assert person.check_password(GOOD)
    person.refresh_from_db()
    assert not person.password.startswith("pbkdf2_sha256$")


@pytest.mark.django_db
def test_a_password_that_the_owner_gives_ends_the_tokens(helper: User) -> None:
    text = token_of(helper)
    assert token_for(text, at=timezone.now()) is not None
    reset_password(person=helper, password=BETTER, submission=None)
    assert token_for(text, at=timezone.now()) is None


@pytest.mark.django_db
def test_ones_own_new_password_ends_ones_own_tokens_and_says_so(
    client: Client, helper: User, owner: User
) -> None:
    helper.set_password(GOOD)
    helper.save()
    hers, others = token_of(helper), token_of(owner)
    client.force_login(helper)
    sent = {"old_password": GOOD, "new_password1": BETTER, "new_password2": BETTER}
    answer = client.post(reverse("password_change"), sent, follow=True)
    assert "1 token of yours ended" in answer.content.decode()
    assert token_for(hers, at=timezone.now()) is None
    assert token_for(others, at=timezone.now()) is not None
    assert Token.objects.count() == 2


@pytest.mark.django_db
@pytest.mark.parametrize(
    "password",
    ["gulls over ebb and flood " * 6, "Über dem Kai – elf Möwen", "  spaces around it count  ", "四" * 15],
)
def test_a_password_counts_whole_and_as_it_was_typed(password: str) -> None:
    """OWASP ASVS 5.0, 6.2.5, 6.2.8 and 6.2.9: any signs, 64 and more of them, none cut off and none made small."""
    validate_password(password)
    User.objects.create_user("wren", password=password)
    near = {password[:-1], password.swapcase(), password.strip(), password + " "} - {password}
    for typed, status in [*((each, 200) for each in sorted(near)[:4]), (password, 302)]:
        answer = Client().post(reverse("login"), {"username": "wren", "password": typed})
        assert answer.status_code == status, typed


@pytest.mark.django_db
@pytest.mark.parametrize("name", ["first-owner", "person-new", "password_change"])
def test_two_lines_say_what_a_new_password_must_be(
    name: str, client: Client, request: pytest.FixtureRequest
) -> None:
    if name != "first-owner":  # which only an empty studio has
        client.force_login(request.getfixturevalue("owner"))
    form = client.get(reverse(name)).context["form"]
    rules = [
        field.help_text for field in form if field.field.widget.attrs.get("autocomplete") == "new-password"
    ]
    assert [str(each).count("<li>") for each in rules] == [2, 0]


@pytest.mark.django_db
def test_a_password_does_not_grow_old(client: Client, helper: User) -> None:
    helper.set_password(GOOD)
    helper.date_joined = helper.last_login = timezone.now() - timedelta(days=4_000)
    helper.save()
    answer = client.post(reverse("login"), {"username": helper.username, "password": GOOD})
    assert answer.headers["Location"] == reverse("home")


@pytest.mark.django_db
def test_fields_for_passwords_hide_them_and_take_what_a_password_manager_fills_in(
    client: Client, owner: User
) -> None:
    """OWASP ASVS 5.0, 6.2.6 and 6.2.7. HTML Standard, autofill: "current-password", "new-password"."""
    fields = re.findall(r'<input[^>]*name="password"[^>]*>', client.get(reverse("login")).content.decode())
    client.force_login(owner)
    for name in ("password_change", "person-new", "two-factor"):
        page = client.get(reverse(name)).content.decode()
        fields += re.findall(r'<input[^>]*name="(?:old_|new_)?password[12]?"[^>]*>', page)
    assert len(fields) >= 6
    for each in fields:
        assert 'type="password"' in each
        assert re.search(r'autocomplete="(current|new)-password"', each)
        assert "readonly" not in each
        assert int((re.search(r'maxlength="(\d+)"', each) or ["", "4096"])[1]) >= 64
