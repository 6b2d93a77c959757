"""Tokens: made once, shown once, kept as a hash, and refused the moment they should be."""

from datetime import datetime, timedelta
from io import StringIO
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import IntegrityError, transaction
from django.utils import timezone

from studio.accounts.models import Role, Token, TokenScope, User
from studio.accounts.tokens import USE_NOTED_EVERY, add_token, digest_of, note_use, revoke_token, token_for
from studio.errors import MeniscusError
from tests.programs import Program

pytestmark = pytest.mark.django_db
NOW = timezone.now


def a_token(user: User, scope: str = TokenScope.READ, *, days: int = 30, at: datetime | None = None) -> str:
    return add_token(user=user, name="Shelf scale", scope=scope, days=days, at=at or NOW())[1]


def status(text: str) -> int:
    code: int = Program(token=text).get("techniques/").status_code
    return code


def test_a_token_signs_a_program_in(helper: User) -> None:
    text = a_token(helper)
    assert status(text) == 200
    assert status(text + "x") == 401
    assert status("") == 401


def test_only_its_hash_is_kept(helper: User) -> None:
    text = a_token(helper)
    token = Token.objects.get()
    row = str(Token.objects.values().get())
    assert token.digest == digest_of(text)
    assert text not in row
    assert text.startswith(token.prefix)
    assert len(text) - len(token.prefix) > 32  # enough is left to guess at
    assert text not in str(token)


def test_each_token_is_its_own(helper: User) -> None:
    assert len({a_token(helper) for _ in range(20)}) == 20


def test_a_token_is_refused_once_revoked_run_out_or_its_person_switched_off(helper: User) -> None:
    text = a_token(helper)
    revoke_token(prefix=Token.objects.get().prefix, at=NOW())
    assert status(text) == 401
    assert status(a_token(helper, days=1, at=NOW() - timedelta(days=2))) == 401
    text = a_token(helper)
    User.objects.filter(pk=helper.pk).update(is_active=False)
    assert status(text) == 401


def test_a_bad_token_is_refused_even_beside_a_good_session(helper: User) -> None:
    program = Program(helper, token="meniscus_no-such-token")
    assert program.get("techniques/").status_code == 401


def test_a_token_for_reading_writes_nothing(owner: User) -> None:
    reading = Program(token=a_token(owner))
    writing = Program(token=a_token(owner, TokenScope.WRITE))
    assert reading.get("materials/").status_code == 200
    assert reading.post("write-offs/", {}).status_code == 403
    assert writing.post("write-offs/", {}).status_code == 400  # it got as far as being read


def test_a_token_does_what_its_person_may_and_no_more(helper: User, bookkeeper: User) -> None:
    program = Program(token=a_token(helper, TokenScope.WRITE))
    assert program.get("earnings/").status_code == 403
    with pytest.raises(MeniscusError, match="read-only"):
        a_token(bookkeeper, TokenScope.WRITE)
    User.objects.filter(pk=helper.pk).update(role=Role.BOOKKEEPER)
    assert program.post("write-offs/", {}).status_code == 403


def test_a_token_opens_no_page(owner: User) -> None:
    text = a_token(owner, TokenScope.WRITE)
    answer = Program().client.get("/stock/", headers={"Authorization": f"Bearer {text}"})
    assert (answer.status_code, answer.headers["Location"]) == (302, "/login/?next=/stock/")


def test_a_token_in_the_address_is_no_token(owner: User) -> None:
    answer = Program().client.get("/api/techniques/", {"token": a_token(owner)})
    assert answer.status_code == 401


def test_its_last_use_is_noted_now_and_then(helper: User) -> None:
    at = NOW()
    token = token_for(a_token(helper, at=at), at=at)
    assert token is not None
    note_use(token, at=at)
    token.refresh_from_db()
    note_use(token, at=at + USE_NOTED_EVERY / 2)
    token.refresh_from_db()
    assert token.last_used_at == at
    note_use(token, at=at + USE_NOTED_EVERY)
    token.refresh_from_db()
    assert token.last_used_at == at + USE_NOTED_EVERY


@pytest.mark.parametrize(
    "facts",
    [
        {"days": 0},
        {"days": 367},
        {"days": -1},
        {"name": " "},
        {"name": "x" * 81},
        {"name": "a\nb"},
        {"scope": "all"},
    ],
)
def test_it_refuses_a_token_that_makes_no_sense(helper: User, facts: dict[str, Any]) -> None:
    said: dict[str, Any] = {"name": "Shelf scale", "scope": "read", "days": 30} | facts
    with pytest.raises(MeniscusError):
        add_token(user=helper, at=NOW(), **said)
    assert not Token.objects.exists()


def test_the_database_knows_two_scopes_only(helper: User) -> None:
    a_token(helper)
    with pytest.raises(IntegrityError), transaction.atomic():
        Token.objects.update(scope="all")


def test_the_command_prints_the_token_once_and_revokes_it(helper: User) -> None:
    out, err = StringIO(), StringIO()
    call_command("add_token", user="helper", name="Scale", scope="write", days=7, stdout=out, stderr=err)
    text = out.getvalue().strip()
    assert status(text) == 200
    assert text not in err.getvalue()
    call_command("add_token", revoke=Token.objects.get().prefix, stdout=out)
    assert status(text) == 401


@pytest.mark.parametrize(
    "said",
    [
        {"user": "nobody", "name": "Scale"},
        {"user": "helper"},
        {"name": "Scale"},
        {"user": "helper", "name": "Scale", "days": 0},
        {"revoke": "meniscus_xxxxxx"},
    ],
)
def test_the_command_says_what_is_wrong(helper: User, said: dict[str, Any]) -> None:
    with pytest.raises(CommandError):
        call_command("add_token", **said)


def test_a_refused_token_is_logged_without_its_text(helper: User, caplog: pytest.LogCaptureFixture) -> None:
    status("meniscus_a-secret-typed-wrong")
    assert "token_refused" in caplog.text
    assert "a-secret" not in caplog.text
