"""The first owner of an empty studio, made in the browser: once, and only by whoever is at the studio's own machine.

On the machine itself that is clear from where the request comes from. On the network it takes a code that the terminal
shows. A server that runs in another way makes its first owner by `manage.py add_person`.
"""

import secrets
from dataclasses import dataclass
from ipaddress import ip_address

from django.conf import settings
from django.http import HttpRequest
from django.utils.crypto import constant_time_compare

from studio.accounts.actions import add_person
from studio.accounts.models import Role, User
from studio.errors import InputError, MeniscusError
from studio.preferences.models import Studio
from studio.submission import transaction
from studio.translation import _

# Neither 0 nor O, 1, I nor L: eight of these are 40 bits, which nobody guesses over a network.
LETTERS = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"


class NotEmpty(MeniscusError):
    """Raised when somebody can log in already: only an owner adds the next person."""


@dataclass(slots=True)
class _Door:
    """The code of this process, told to its workers by their being copies of it."""

    code: str = ""


_door = _Door()


def make_code() -> str:
    """A new one-time code, for the terminal. The one before it no longer counts."""
    _door.code = "".join(secrets.choice(LETTERS) for _ in range(8))
    return f"{_door.code[:4]}-{_door.code[4:]}"


def is_nobody_here() -> bool:
    """Whether nobody can log in yet."""
    return not User.objects.exists()


def needs_code(request: HttpRequest) -> bool:
    """Whether whoever asks must prove to be at the studio's machine."""
    if settings.PRODUCTION or settings.PROXIES:
        return True
    try:
        return not ip_address(request.META.get("REMOTE_ADDR", "")).is_loopback
    except ValueError:
        return True


def is_possible(request: HttpRequest) -> bool:
    """Whether the first owner can be made in this browser at all."""
    return bool(_door.code) or not needs_code(request)


def add_first_owner(*, username: str, password: str, code: str | None, language: str = "") -> User:
    """Make the first owner. `code` is what was typed, None where none is needed.

    Raises NotEmpty, also when somebody else was faster; InputError naming the field.
    """
    with transaction(None):
        Studio.objects.select_for_update().get(
            pk=1
        )  # of two at once the second waits here, and then finds the first
        if not is_nobody_here():
            raise NotEmpty(_("This studio has an owner already. Log in, or ask the owner to add you."))
        if code is not None and not _is_code(code):
            raise InputError(
                _("This is not the code that the terminal shows now. Type the one it shows."), field="code"
            )
        owner = User(username=username, role=Role.OWNER, language=language)
        add_person(owner, password=password, submission=None)
    _door.code = ""
    return owner


def _is_code(typed: str) -> bool:
    letters = "".join(each for each in typed.upper() if each.isalnum())
    return bool(_door.code) and constant_time_compare(letters, _door.code)
