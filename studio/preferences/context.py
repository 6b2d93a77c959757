"""What every page knows: the studio, and whatever the floors above register for their own pages."""

from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.http import HttpRequest

from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.translation import _

_PROVIDERS: list[Callable[[HttpRequest], dict[str, Any]]] = []


def on_every_page(provider: Callable[[HttpRequest], dict[str, Any]]) -> None:
    """Add what a function returns to the context of every page of somebody who has signed in."""
    if provider not in _PROVIDERS:
        _PROVIDERS.append(provider)


def page_frame(request: HttpRequest) -> dict[str, Any]:
    """The studio's settings, and what is registered, for the page frame."""
    if not getattr(request, "user", None) or not request.user.is_authenticated:
        return {}
    studio = current_studio(request)
    context = {"studio": studio, "studio_name": studio.name, "formatter": Formatter.of(studio)}
    for provider in _PROVIDERS:
        context |= provider(request)
    return context


def current_studio(request: HttpRequest) -> Studio:
    """The studio, read once per request."""
    if not hasattr(request, "_studio"):
        request._studio = Studio.current()  # type: ignore[attr-defined]
    studio: Studio = request._studio  # type: ignore[attr-defined]
    return studio


def own_languages() -> list[tuple[str, str]]:
    """Choices for one person's pages: the studio's language, or another."""
    usual = dict(settings.LANGUAGES)[Studio.current().language]
    return [("", _("The studio's ({language})", language=usual)), *settings.LANGUAGES]
