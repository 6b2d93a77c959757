"""What every request passes through: its largest size, the headers of its answer, and who is acting."""

from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.contrib.auth.middleware import LoginRequiredMiddleware
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase

from studio.accounts import security_log as security
from studio.auditing.actor import answering
from studio.values.numbers import read_small_whole

Answer = Callable[[HttpRequest], HttpResponseBase]

# Nothing here uses the device's senses or its wallet.
PERMISSIONS = ", ".join(
    f"{feature}=()"
    for feature in (
        "accelerometer",
        "camera",
        "display-capture",
        "geolocation",
        "gyroscope",
        "magnetometer",
        "microphone",
        "midi",
        "payment",
        "usb",
    )
)


class EveryAnswer:
    """Headers on every answer, static files and errors included; a request that is too large goes no further."""

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        answer = _too_large() if _length(request) > settings.LARGEST_REQUEST else self.get_response(request)
        answer.headers.setdefault("Permissions-Policy", PERMISSIONS)
        return answer


class LoginWhereRequired(LoginRequiredMiddleware):
    """Asks who is there only where it matters: a page for everybody needs no database for that."""

    def process_view(
        self, request: HttpRequest, view_func: Answer, view_args: Any, view_kwargs: Any
    ) -> HttpResponseBase | None:
        if not getattr(view_func, "login_required", True):
            return None
        return super().process_view(request, view_func, view_args, view_kwargs)


class WhoAndWhat:
    """Let the record of changes know who is acting, log what was denied, and keep pages out of shared caches.

    Pages show the studio's money: after logging out on a borrowed device, the Back button must not.
    """

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        with answering(request):
            answer = self.get_response(request)
        answer.headers.setdefault("Cache-Control", "private, no-store")
        if answer.status_code == 403:
            security.event("permission_denied", request)
        return answer


def _length(request: HttpRequest) -> int:
    said = request.META.get("CONTENT_LENGTH") or "0"
    return read_small_whole(said) or 0


def _too_large() -> HttpResponse:
    return HttpResponse("This is too large. Send it in smaller parts.", status=413, content_type="text/plain")
