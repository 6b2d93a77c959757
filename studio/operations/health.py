"""Is the service alive, and is it fit to serve? Strangers learn yes or no, the owner which part is not."""

import logging
from collections.abc import Callable
from datetime import datetime

from django.contrib.auth.decorators import login_not_required
from django.core.checks import run_checks
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.http import HttpRequest, JsonResponse
from django.urls import path
from django.views.decorators.http import require_safe

from studio.accounts.models import User
from studio.operations.checks import LARGEST_LOG, large_log
from studio.operations.models import BookCheck

log = logging.getLogger("meniscus.health")


def record_book_check(*, ok: bool, at: datetime, note: str = "") -> BookCheck:
    """Record how a run of check_books over the whole ledger ended."""
    return BookCheck.objects.create(ok=ok, checked_at=at, note=note[:1000])


def last_book_check() -> BookCheck | None:
    """The newest run of check_books; None before the first."""
    return BookCheck.objects.order_by("-checked_at", "-pk").first()


@require_safe
@login_not_required
def live(request: HttpRequest) -> JsonResponse:
    """The process answers; nothing else is asked."""
    return JsonResponse({"status": "ok"})


@require_safe
@login_not_required
def ready(request: HttpRequest) -> JsonResponse:
    """The database answers, is up to date, keeps its rules, and the books held when they were last checked.

    A write-ahead log that has grown too large makes nobody unready: it is logged, and told to the owner.
    """
    parts = {name: _holds(name, part) for name, part in PARTS.items()}
    fit = all(parts.values())
    document: dict[str, object] = {"status": "ready" if fit else "not ready"}
    grown = large_log(connection)
    if grown is not None:
        log.warning("the write-ahead log %s has grown past %d bytes", grown, LARGEST_LOG)
    if parts["database"] and isinstance(request.user, User) and request.user.is_owner:
        document |= {"parts": parts, "log_is_large": grown is not None}
    return JsonResponse(document, status=200 if fit else 503)


def _holds(name: str, part: Callable[[], bool]) -> bool:
    try:
        holds = part()
    except DatabaseError as problem:
        log.warning("not ready: %s (%s)", name, problem)
        return False
    if not holds:
        log.warning("not ready: %s", name)
    return holds


def _database_answers() -> bool:
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")
        return bool(cursor.fetchone() == (1,))


def _up_to_date() -> bool:
    executor = MigrationExecutor(connection)
    return not executor.migration_plan(executor.loader.graph.leaf_nodes())


def _rules_in_place() -> bool:
    messages = run_checks(tags=["database"], databases=["default"])
    return not any(message.is_serious() for message in messages)


def _books_hold() -> bool:
    check = last_book_check()
    return check is not None and check.ok


PARTS = {
    "database": _database_answers,
    "migrations": _up_to_date,
    "rules": _rules_in_place,
    "books": _books_hold,
}

urlpatterns = [path("live", live, name="health-live"), path("ready", ready, name="health-ready")]
