"""Passwords that a list of common ones has with something around them are refused, and a new one ends tokens."""

from datetime import timedelta

import pytest
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.accounts.actions import reset_password
from studio.accounts.models import Token, TokenScope, User
from studio.accounts.tokens import add_token, token_for

GOOD, BETTER = "seven herons over the slipway", "a-long-enough-phrase-for-the-loft"


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


@pytest.mark.parametrize(
    "password", [GOOD, BETTER, "correct horse battery staple 7", "tide-table-of-1987-lost"]
)
def test_a_phrase_of_several_words_is_taken(password: str) -> None:
    validate_password(password)


def token_of(user: User) -> str:
    now = timezone.now()
    return add_token(user=user, name="Till", scope=TokenScope.READ, days=9, at=now - timedelta(hours=1))[1]


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
