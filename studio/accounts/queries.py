"""The people who sign in, with what their page says of them."""

from collections.abc import Collection
from datetime import datetime

from axes.models import AccessAttempt
from django.conf import settings
from django.db.models import Exists, Max, OuterRef, Sum

from studio.accounts.login_limits import MOST_PER_NAME
from studio.accounts.models import User
from studio.accounts.two_factor import phones_of


def people(*, at: datetime) -> list[User]:
    """Everybody who was ever added, the active first.

    Each has `has_two_factor` (whether the login asks for a code) and `locked_until` (None, or when to try again).
    """
    rows: list[User] = list(
        User.objects.annotate(has_two_factor=Exists(phones_of(OuterRef("pk")))).order_by(
            "-is_active", "username"
        )
    )
    locked = locked_until([row.get_username() for row in rows], at=at)
    for row in rows:
        row.locked_until = locked.get(row.get_username())  # type: ignore[attr-defined]
    return rows


def locked_until(usernames: Collection[str], *, at: datetime) -> dict[str, datetime]:
    """Who cannot sign in for now after too many wrong guesses, at least from one address or device, and until when."""
    recent = AccessAttempt.objects.filter(
        username__in=usernames, attempt_time__gt=at - settings.AXES_COOLOFF_TIME
    )
    limits = (
        (("username", "ip_address", "user_agent"), settings.AXES_FAILURE_LIMIT),
        (("username",), MOST_PER_NAME),
    )
    latest: dict[str, datetime] = {}
    for fields, most in limits:
        counted = recent.values(*fields).annotate(
            wrong=Sum("failures_since_start"), latest=Max("attempt_time")
        )
        for row in counted.filter(wrong__gte=most).order_by("latest"):
            latest[row["username"]] = max(row["latest"], latest.get(row["username"], row["latest"]))
    return {name: moment + settings.AXES_COOLOFF_TIME for name, moment in latest.items()}
