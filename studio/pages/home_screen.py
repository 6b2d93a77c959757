"""The studio's icon, and what a phone needs to put it on its home screen (W3C Web Application Manifest)."""

from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect
from django.templatetags.static import static
from django.urls import reverse
from django.views.decorators.http import require_safe

ICON_SIZES = (192, 512)


@login_not_required
@require_safe
def favicon(request: HttpRequest) -> HttpResponse:
    """Browsers ask for it under this name, whatever a page says."""
    return redirect(static("studio/icon.svg"))


@login_not_required
@require_safe
def manifest(request: HttpRequest) -> HttpResponse:
    """The whole studio on the home screen; it opens on Today."""
    return manifest_answer("Meniscus", "Meniscus", address=reverse("home"))


def manifest_answer(name: str, short_name: str, *, address: str) -> HttpResponse:
    """A manifest whose page and identity are one address. The drawings leave the room that a maskable icon needs."""
    drawings: list[dict[str, Any]] = [
        {
            "src": static(f"studio/icon-{size}.png"),
            "sizes": f"{size}x{size}",
            "type": "image/png",
            "purpose": purpose,
        }
        for size in ICON_SIZES
        for purpose in ("any", "maskable")
    ]
    body = {
        "id": address,
        "name": name,
        "short_name": short_name,
        "start_url": address,
        "scope": "/",
        "display": "standalone",
        "background_color": "#fbf8f1",
        "theme_color": "#0f5568",
        "icons": drawings,
    }
    return JsonResponse(body, content_type="application/manifest+json", headers={"Cache-Control": "no-cache"})
