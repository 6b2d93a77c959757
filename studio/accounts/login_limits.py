"""How often passwords and codes may be guessed: per name and address, per name, per address, and per known device.

django-axes counts and answers; this says what it counts. A device on which somebody has signed in before carries a
signed cookie with that name, and is counted apart from everybody else: whoever guesses at a name elsewhere locks it
everywhere but there (the "device cookies" of the OWASP Authentication Cheat Sheet).
"""

from ipaddress import IPv6Address, ip_address, ip_network
from typing import Any
from uuid import uuid4

from axes.attempts import get_cool_off_threshold
from axes.handlers.database import AxesDatabaseHandler
from axes.helpers import get_client_username
from axes.models import AccessAttempt
from django.conf import settings
from django.core import signing
from django.db import IntegrityError
from django.db.models import QuerySet, Sum
from django.http import HttpRequest, HttpResponse

from studio.accounts.models import User
from studio.accounts.security_log import client_address

# The prefix (RFC 6265bis, 4.1.3.2) keeps other hosts from setting it; browsers take it by https alone.
COOKIE = "__Host-known_device" if settings.SESSION_COOKIE_SECURE else "known_device"
SALT = "studio.accounts.known_device"
A_YEAR = 365 * 24 * 60 * 60  # seconds
# Wrong guesses that are checked within AXES_COOLOFF_TIME. AXES_FAILURE_LIMIT holds for one name from one address, or
# from one known device. Requests at the same moment may pass together, so these are lower than what could be borne.
MOST_PER_NAME = 12  # from all addresses together
MOST_PER_ADDRESS = 30  # at all names together
MOST_PEOPLE = 8  # remembered on one device
ELSEWHERE = "not a known device"


def guessing_address(request: HttpRequest) -> str | None:
    """The address that guesses are counted under: of IPv6 the /64, all of which is one customer's."""
    address = client_address(request)
    if address is not None and isinstance(ip_address(address), IPv6Address):
        return str(ip_network(f"{address}/64", strict=False).network_address)
    return address


def remember_device(request: HttpRequest, response: HttpResponse, user: User) -> None:
    """Let this device be known as one on which they have signed in. It gives no right to anything."""
    device, names = _noted_on(request) or (uuid4().hex, [])
    names = [user.get_username(), *(name for name in names if name != user.get_username())]
    response.set_cookie(
        COOKIE,
        signing.dumps([device, names[:MOST_PEOPLE]], salt=SALT),
        max_age=A_YEAR,
        secure=settings.SESSION_COOKIE_SECURE,
        httponly=True,
        samesite="Lax",
    )


class LoginLimits(AxesDatabaseHandler):  # type: ignore[misc]  # the library has no annotations
    """Counts wrong passwords and codes. A row of axes is one name, one address, and a known device or all others."""

    def user_login_failed(
        self, sender: Any, credentials: dict[str, Any], request: HttpRequest | None = None, **kwargs: Any
    ) -> None:
        if request is not None:  # any text may be sent as the browser's name, so that is never counted by
            device = _device_of(request, get_client_username(request, credentials))
            request.axes_user_agent = device or ELSEWHERE  # type: ignore[attr-defined]
        for tries_left in (2, 1, 0):
            try:
                super().user_login_failed(sender, credentials, request, **kwargs)
            except IntegrityError:  # a success has just forgiven the row that this guess was to count in
                if not tries_left:
                    raise
            else:
                return

    def filter_user_attempts(
        self, request: HttpRequest, credentials: dict[str, Any] | None = None
    ) -> list["QuerySet[AccessAttempt]"]:
        """What a success forgives: the wrong guesses at this name on this device, or else from this address."""
        name = get_client_username(request, credentials)
        attempts = AccessAttempt.objects.filter(username=name)
        if device := _device_of(request, name):
            return [attempts.filter(user_agent=device)]
        return [attempts.filter(user_agent=ELSEWHERE, ip_address=request.axes_ip_address)]  # type: ignore[attr-defined]

    def get_failures(self, request: HttpRequest, credentials: dict[str, Any] | None = None) -> int:
        """Wrong guesses at this name from here; as many as lock it where another limit is reached."""
        failures: int = super().get_failures(request, credentials)
        name = get_client_username(request, credentials)
        if _device_of(request, name):
            return failures
        recent = AccessAttempt.objects.filter(
            user_agent=ELSEWHERE, attempt_time__gte=get_cool_off_threshold(request)
        )
        from_there = recent.filter(ip_address=request.axes_ip_address)  # type: ignore[attr-defined]
        is_locked = (
            _wrong(recent.filter(username=name)) >= MOST_PER_NAME or _wrong(from_there) >= MOST_PER_ADDRESS
        )
        return max(failures, settings.AXES_FAILURE_LIMIT) if is_locked else failures


def _wrong(attempts: "QuerySet[AccessAttempt]") -> int:
    return attempts.aggregate(wrong=Sum("failures_since_start"))["wrong"] or 0


def _device_of(request: HttpRequest, name: str | None) -> str | None:
    """The mark of this device, if somebody of that name has signed in on it."""
    device, names = _noted_on(request) or (None, [])
    return device if name in names else None


def _noted_on(request: HttpRequest) -> tuple[str, list[str]] | None:
    """This device's mark, and who has signed in on it, the latest first."""
    try:
        device, names = signing.loads(request.COOKIES.get(COOKIE, ""), salt=SALT, max_age=A_YEAR)
    except signing.BadSignature:
        return None
    return device, names
