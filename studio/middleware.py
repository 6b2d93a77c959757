"""What every request passes through: its largest size, the headers of its answer, and who is acting."""

from collections.abc import Callable
from functools import partial
from typing import Any

from django.conf import settings
from django.contrib.auth.middleware import LoginRequiredMiddleware
from django.contrib.auth.models import AnonymousUser
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.middleware.gzip import GZipMiddleware
from django.shortcuts import render
from django.utils.functional import SimpleLazyObject

from studio.accounts import security_log as security
from studio.accounts.two_factor import has_codes
from studio.api.plain_problems import is_for_programs, plain_problem
from studio.auditing.actor import answering
from studio.values.numbers import read_small_whole

Answer = Callable[[HttpRequest], HttpResponseBase]

# Nothing here uses the device's senses or its wallet.
SENSES = "accelerometer camera display-capture geolocation gyroscope magnetometer microphone midi payment usb"
PERMISSIONS = ", ".join(f"{feature}=()" for feature in SENSES.split())


def limits_middleware(get_response: Answer) -> Answer:
    """Headers on every answer, errors included; what is too large, or a program without https, goes no further."""

    def middleware(request: HttpRequest) -> HttpResponseBase:
        length = read_small_whole(request.META.get("CONTENT_LENGTH") or "0") or 0
        if length > _most(request):
            answer: HttpResponseBase = _too_large(request)
        elif settings.SECURE_SSL_REDIRECT and is_for_programs(request) and not request.is_secure():
            answer = plain_problem(403, "Use https. What was sent could be read along: revoke its token.")
        else:
            answer = get_response(request)
        answer.headers.setdefault("Permissions-Policy", PERMISSIONS)
        return answer

    return middleware


class CompressTextMiddleware(GZipMiddleware):
    """Compress pages and data; photos, papers and backups are compressed already.

    Against BREACH, Django masks the form token anew in every answer and pads the answer by a random length.
    """

    TEXTS = (
        "text/",
        "application/json",
        "application/problem+json",
        "application/manifest+json",
        "image/svg+xml",
    )

    def process_response(self, request: HttpRequest, response: HttpResponseBase) -> HttpResponseBase:
        if not response.headers.get("Content-Type", "").startswith(self.TEXTS):
            return response
        tag = response.headers.get("ETag", "")
        answer = super().process_response(request, response)
        if tag.startswith('"') and answer.headers.get("Content-Encoding") == "gzip":
            # Django would weaken it, and a weak tag cannot be sent as If-Match (RFC 9110, section 13.1.1).
            answer.headers["ETag"] = f'{tag[:-1]}-gzip"'
        return answer


def two_factor_middleware(get_response: Answer) -> Answer:
    """Whoever has codes on and came into this session without one is not signed in at all.

    So a session from before the codes were switched on ends at once, and no other way in goes round the code.
    """

    def middleware(request: HttpRequest) -> HttpResponseBase:
        request.user = SimpleLazyObject(partial(_verified, request, request.user))  # type: ignore[assignment]
        return get_response(request)

    return middleware


class LoginMiddleware(LoginRequiredMiddleware):
    """Asks who is there only where it matters: a page for everybody needs no database for that."""

    def process_view(
        self, request: HttpRequest, view_func: Answer, view_args: Any, view_kwargs: Any
    ) -> HttpResponseBase | None:
        if not getattr(view_func, "login_required", True):
            return None
        return super().process_view(request, view_func, view_args, view_kwargs)


def recording_middleware(get_response: Answer) -> Answer:
    """Let the record of changes know who is acting, log what was refused, and keep pages out of shared caches.

    Pages show the studio's money: after logging out on a borrowed device, the Back button must not.
    """

    def middleware(request: HttpRequest) -> HttpResponseBase:
        with answering(request):
            answer = get_response(request)
        if answer.status_code == 405 and request.method == "GET" and not is_for_programs(request):
            answer = _not_a_page(request, allowed=answer.headers["Allow"])
        answer.headers.setdefault("Cache-Control", "private, no-store")
        if answer.status_code == 403:
            security.event("permission_denied", request)
        elif answer.status_code == 429 and is_for_programs(request):  # a locked login is told of by itself
            security.event("slowed_down", request)
        return answer

    return middleware


def _not_a_page(request: HttpRequest, *, allowed: str) -> HttpResponse:
    """Words for somebody who opens the address of a button, as after logging in again on the way to it."""
    answer = render(request, "405.html", status=405)
    answer.headers["Allow"] = allowed
    return answer


def _verified(request: HttpRequest, user: Any) -> Any:
    if not user.is_authenticated or user.is_verified() or not has_codes(user):
        return user
    request.session.flush()
    return AnonymousUser()


def _most(request: HttpRequest) -> int:
    """How many bytes may be sent: a page's files come in parts, a program's text is read as a whole."""
    return settings.DATA_UPLOAD_MAX_MEMORY_SIZE if is_for_programs(request) else settings.LARGEST_REQUEST


def _too_large(request: HttpRequest) -> HttpResponse:
    advice = f"This is more than {_most(request) // 1024**2} MB. Send it in smaller parts."
    if is_for_programs(request):
        return plain_problem(413, advice)
    return HttpResponse(advice, status=413, content_type="text/plain")
