"""Passwords that anybody can read, such as a demo's: in production they open nothing, whoever has one."""

from typing import Any

from django.conf import settings
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest

from studio.accounts import security_log as security
from studio.translation import _

_public: set[str] = set()


def register(*passwords: str) -> None:
    """Let passwords be known as public; called by the room that publishes them, once its app is ready."""
    _public.update(passwords)


def is_public(password: str) -> bool:
    return password in _public


class RefusesPublicPasswords:
    """Stands before the backend that looks at passwords. A refusal is counted and answered like a wrong guess."""

    def authenticate(
        self,
        request: HttpRequest | None,
        username: str | None = None,
        password: str | None = None,
        **others: Any,
    ) -> None:
        if not settings.PRODUCTION or password is None or not is_public(password):
            return
        security.event("public_password", request)
        if request is not None:
            messages.error(request, _advice())
        raise PermissionDenied("public password")


def _advice() -> str:
    if settings.DEMO and settings.ON_LAN:
        return _(
            "Anyone can read this password, so it does not open the demo on the network. manage.py demo --lan shows "
            "new ones in the terminal when it starts."
        )
    return _(
        "Anyone can read this password in the demo, so it does not open a real studio. Set another on the server: "
        "manage.py changepassword NAME."
    )
