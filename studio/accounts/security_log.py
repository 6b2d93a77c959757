"""What happened at the door: one logger for security events, written so that nobody can forge a line of it."""

import json
import logging
import time
from datetime import UTC, datetime
from ipaddress import ip_address
from typing import Any

from django.conf import settings
from django.contrib.auth import get_user_model
from django.contrib.auth.signals import user_logged_in, user_logged_out, user_login_failed
from django.http import HttpRequest

log = logging.getLogger("meniscus.security")

_RIGHTS = {"role", "may_see_money", "is_active", "is_staff", "is_superuser"}
_QUIET = {"logged_in", "logged_out", "backup_made"}


def event(name: str, request: HttpRequest | None = None, **facts: object) -> None:
    """Log one security event with plain facts. Callers pass names and numbers, never a password, key or token."""
    noted = {key: str(fact) for key, fact in (_about(request) | facts).items() if fact not in (None, "")}
    # JSON in ASCII quotes every control character, so a name with a line break cannot pose as a second event.
    words = " ".join(f"{key}={json.dumps(fact)}" for key, fact in noted.items())
    level = logging.INFO if name in _QUIET else logging.WARNING
    log.log(level, "%s %s", name, words, extra={"event": name, "facts": noted})


def client_address(request: HttpRequest) -> str | None:
    """The address that a request came from.

    Only the entry that our own outermost proxy wrote is taken from X-Forwarded-For, counted from the right; without
    proxies of our own (MENISCUS_PROXIES) the header is anybody's claim and is not looked at.
    """
    address = request.META.get("REMOTE_ADDR", "")
    if settings.PROXIES:
        claimed = [part.strip() for part in request.META.get("HTTP_X_FORWARDED_FOR", "").split(",")]
        if len(claimed) >= settings.PROXIES:
            address = claimed[-settings.PROXIES]
    try:
        return str(ip_address(address))
    except ValueError:
        return None


def watch() -> None:
    """Log every login, failed or not, every lock, and every change to who may do what."""
    from auditlog.signals import post_log  # not before the apps are loaded
    from axes.signals import user_locked_out

    post_log.connect(_person_changed, sender=get_user_model(), dispatch_uid="security")
    user_logged_in.connect(_logged_in, dispatch_uid="security")
    user_logged_out.connect(_logged_out, dispatch_uid="security")
    user_login_failed.connect(_login_failed, dispatch_uid="security")
    user_locked_out.connect(_locked, dispatch_uid="security")


class PlainFormatter(logging.Formatter):
    """One line per message, its time in UTC (RFC 3339): whatever is not printable in it is shown as an escape."""

    converter = time.gmtime  # type: ignore[assignment]  # the stub wants None to be taken, which is never given
    default_time_format, default_msec_format = "%Y-%m-%dT%H:%M:%S", "%s.%03dZ"

    def formatMessage(self, record: logging.LogRecord) -> str:  # noqa: N802 (the library's name)
        return printable(super().formatMessage(record))


class JSONFormatter(logging.Formatter):
    """One JSON object per line, for a log collector."""

    def format(self, record: logging.LogRecord) -> str:
        entry: dict[str, Any] = {
            "at": datetime.fromtimestamp(record.created, tz=UTC).isoformat(),
            "level": record.levelname,
            "logger": record.name,
        }
        if hasattr(record, "event"):
            entry |= {"event": record.event, **getattr(record, "facts", {})}
        else:
            entry["message"] = record.getMessage()
        if record.exc_info:
            entry["trace"] = self.formatException(record.exc_info)
        return json.dumps(entry)


def printable(text: str) -> str:
    """Text with control characters, line breaks and direction marks written as escapes."""
    return "".join(sign if sign.isprintable() else sign.encode("unicode_escape").decode() for sign in text)


def _about(request: HttpRequest | None) -> dict[str, object]:
    if request is None:
        return {}
    user = getattr(request, "user", None)
    return {
        "user": user.get_username() if user is not None and user.is_authenticated else "",
        "address": client_address(request),
        "method": request.method,
        "path": request.path,
    }


def _logged_in(sender: object, request: HttpRequest, user: Any, **kwargs: object) -> None:
    event("logged_in", request, user=user.get_username())


def _logged_out(sender: object, request: HttpRequest, user: Any, **kwargs: object) -> None:
    event("logged_out", request, user=user.get_username() if user else "")


def _login_failed(
    sender: object, credentials: dict[str, Any], request: HttpRequest | None = None, **kwargs: object
) -> None:
    event("login_failed", request, account=_known(credentials.get("username")))


def _locked(sender: object, request: HttpRequest, username: str | None, **kwargs: object) -> None:
    event("locked", request, account=_known(username))


def _person_changed(sender: object, log_entry: Any, **kwargs: object) -> None:
    """Log what the change log has just recorded of a person."""
    from studio.auditing.actor import current_request
    from studio.auditing.queries import ChangeAction

    if log_entry is None:
        return
    request, account = current_request(), log_entry.object_repr
    if log_entry.action != ChangeAction.CHANGED:
        event(f"person_{ChangeAction(log_entry.action).name.lower()}", request, account=account)
        return
    for field in sorted(_RIGHTS & log_entry.changes.keys()):
        old, new = log_entry.changes[field]
        event("role_changed", request, account=account, field=field, old=old, new=new)


def _known(username: str | None) -> str:
    # A password typed into the wrong box must not reach the log, so only names that exist do.
    accounts = get_user_model()._default_manager
    return str(username) if username and accounts.filter(username=username).exists() else "(no such account)"
