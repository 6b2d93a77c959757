"""Who is acting: the person of the submission that is carried out, or else whoever sent the request.

django-auditlog's own `set_actor` and middleware are not used: one inside the other, the outer actor is lost once the
inner one ends, and its signal receiver stays connected for good; and the middleware asks for the person on every
request, also on pages that need no database.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any

from django.contrib.auth.base_user import AbstractBaseUser
from django.http import HttpRequest

_person: ContextVar[AbstractBaseUser | None] = ContextVar("acting person", default=None)
_request: ContextVar[HttpRequest | None] = ContextVar("request being answered", default=None)


@contextmanager
def acting(person: AbstractBaseUser | None) -> Iterator[None]:
    """Record every change made within as this person's."""
    token = _person.set(person)
    try:
        yield
    finally:
        _person.reset(token)


@contextmanager
def answering(request: HttpRequest) -> Iterator[None]:
    """Record every change made within as made by whoever sent the request, unless a submission names somebody."""
    token = _request.set(request)
    try:
        yield
    finally:
        _request.reset(token)


def current_request() -> HttpRequest | None:
    """The request being answered, or None in a command."""
    return _request.get()


def sign(sender: object, instance: Any, **kwargs: Any) -> None:
    """Put the acting person on an entry of the change log before it is saved."""
    person = _person.get() or getattr(_request.get(), "user", None)
    if instance.actor is None and isinstance(person, AbstractBaseUser):
        instance.actor = person
