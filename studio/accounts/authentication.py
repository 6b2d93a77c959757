"""Signing in to the API with a token: the header `Authorization: Bearer …`, never an address or a form."""

from django.utils import timezone
from rest_framework.authentication import BaseAuthentication
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.request import Request

from studio.accounts import security_log as security
from studio.accounts.models import Token, User
from studio.accounts.tokens import note_use, token_for
from studio.translation import _

SCHEME = "Bearer"


class TokenLogin(BaseAuthentication):
    """The person behind a good token. A bad one is refused even if the browser is signed in besides."""

    def authenticate(self, request: Request) -> tuple[User, Token] | None:
        scheme, _space, text = request.META.get("HTTP_AUTHORIZATION", "").partition(" ")
        if scheme.casefold() != SCHEME.casefold():
            return None
        now = timezone.now()
        token = token_for(text.strip(), at=now)
        if token is None:
            security.event("token_refused", request._request)
            raise AuthenticationFailed(_("This token is unknown, has expired or was revoked."))
        note_use(token, at=now)
        return token.user, token

    def authenticate_header(self, request: Request) -> str:
        return SCHEME
