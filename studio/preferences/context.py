"""What every page knows: the studio, and how many alerts are open."""

from typing import Any

from django.apps import apps
from django.http import HttpRequest

from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio


def studio(request: HttpRequest) -> dict[str, Any]:
    """The studio's settings and the number of open alerts, for the page frame."""
    if not getattr(request, "user", None) or not request.user.is_authenticated:
        return {}
    alerts = apps.get_model("inventory", "Alert")._default_manager.filter(cleared_at__isnull=True).count()
    found = current_studio(request)
    return {
        "studio": found,
        "studio_name": found.name,
        "formatter": Formatter.of(found),
        "open_alerts": alerts,
    }


def current_studio(request: HttpRequest) -> Studio:
    """The studio, read once per request."""
    found: Studio | None = getattr(request, "_studio", None)
    if found is None:
        found = Studio.current()
        request._studio = found  # type: ignore[attr-defined]
    return found
