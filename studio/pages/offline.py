"""What pages need that must open, and keep what is entered, without a network: the worker, and who is signed in."""

from pathlib import Path

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.views.decorators.http import require_safe

WORKER = Path(__file__).with_name("worker.js")


@login_not_required
@require_safe
def worker(request: HttpRequest) -> HttpResponse:
    """The service worker: from the root, because it serves only what lies below it. Browsers look for a newer one."""
    return HttpResponse(
        WORKER.read_bytes(),
        content_type="text/javascript; charset=utf-8",
        headers={"Cache-Control": "no-cache", "X-Content-Type-Options": "nosniff"},
    )


@login_not_required
@require_safe
def login_state(request: HttpRequest) -> JsonResponse:
    """Who is signed in, with a fresh form token: a page that was opened without a network has an old one or none."""
    if not request.user.is_authenticated:
        return JsonResponse({"user": None}, status=401)
    return JsonResponse({"user": request.user.pk, "csrf": get_token(request)})
