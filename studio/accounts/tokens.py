"""Writers and the reader of tokens: how a program signs in as a person without that person's password."""

import hashlib
import secrets
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import Q

from studio.accounts.models import Token, TokenScope, User
from studio.auditing.writing import set_all
from studio.errors import InputError, MeniscusError
from studio.translation import _

SIGN = "meniscus_"  # so that a token left lying about is known for what it is
SECRET_BYTES = 32
SHOWN_OF_SECRET = 6
LONGEST_NAME = 80
MOST_DAYS = 366
# Its last use is written down at most this often: a program that only reads should not keep the database writing.
USE_NOTED_EVERY = timedelta(minutes=10)


@transaction.atomic
def add_token(*, user: User, name: str, scope: str, days: int, at: datetime) -> tuple[Token, str]:
    """Make a token good for so many days; return it and its text, which is nowhere kept and never shown again."""
    name = name.strip()
    if not 0 < len(name) <= LONGEST_NAME or not name.isprintable():
        raise InputError(_("Describe what the token is for, in at most 80 characters."), field="name")
    if scope not in TokenScope.values:
        read, write = TokenScope.READ.value, TokenScope.WRITE.value
        raise InputError(_("Choose a scope: {read} or {write}.", read=read, write=write), field="scope")
    if not 1 <= days <= MOST_DAYS:
        raise InputError(_("A token can be valid for 1 to {most} days.", most=MOST_DAYS), field="days")
    if not user.is_active:
        raise MeniscusError(
            _("{name} is deactivated and cannot log in. Activate this person first.", name=user.username)
        )
    if scope == TokenScope.WRITE and not user.may_write:
        raise MeniscusError(
            _("{name} has read-only access. Create the token with scope read.", name=user.username)
        )
    text = SIGN + secrets.token_urlsafe(SECRET_BYTES)
    token = Token.objects.create(
        user=user,
        name=name,
        scope=scope,
        prefix=text[: len(SIGN) + SHOWN_OF_SECRET],
        digest=digest_of(text),
        made_at=at,
        expires_at=at + timedelta(days=days),
    )
    return token, text


@transaction.atomic
def revoke_token(*, prefix: str, at: datetime) -> Token:
    """Revoke the token that begins so. Raises MeniscusError when there is none; a second time changes nothing."""
    token = Token.objects.select_for_update().filter(prefix=prefix.strip().removesuffix("…")).first()
    if token is None:
        raise MeniscusError(_("There is no token starting with “{prefix}”.", prefix=prefix))
    if token.revoked_at is None:
        token.revoked_at = at
        token.save(update_fields=["revoked_at"])
    return token


@transaction.atomic
def revoke_tokens_of(user: User, *, at: datetime) -> int:
    """Revoke every token of somebody whose password changed: whoever had the old one may have made them. How many."""
    return set_all(Token.objects.filter(user=user, revoked_at__isnull=True, expires_at__gt=at), revoked_at=at)


def token_for(text: str, *, at: datetime) -> Token | None:
    """The token of this text with its person, if it is good at this moment and the person may sign in."""
    good = Q(revoked_at__isnull=True, expires_at__gt=at, user__is_active=True)
    return Token.objects.select_related("user").filter(good, digest=digest_of(text)).first()


def note_use(token: Token, *, at: datetime) -> None:
    """Write down that a token was used, unless that was done a moment ago."""
    if token.last_used_at is None or at - token.last_used_at >= USE_NOTED_EVERY:
        set_all(Token.objects.filter(pk=token.pk), last_used_at=at)


def digest_of(text: str) -> str:
    """SHA-256 without salt is enough here: a token is 256 random bits, which nobody can guess their way to."""
    return hashlib.sha256(text.encode()).hexdigest()
