"""When the books are out of reach: a full disk, a database that is away, a restore under way.

Whoever was sending something is told what happened and what became of it, and keeps what was typed.
"""

import errno
import logging
import sqlite3
import sys
from dataclasses import dataclass

from django.db import DatabaseError, InternalError, OperationalError
from django.db.utils import InterfaceError
from django.http import HttpRequest, HttpResponse
from django.http.request import UnreadablePostError
from django.middleware.csrf import get_token
from django.template.loader import render_to_string
from django.views.defaults import server_error

from studio.operations.database_guard import NotToBeOpened
from studio.translation import _

log = logging.getLogger("meniscus.outages")

FULL, AWAY = 507, 503
TRY_AGAIN_AFTER = 30  # seconds, for programs that wait by themselves
MOST_KEPT = 200_000  # characters of a form that are sent back with the page

_SQLITE_BUSY = {sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED}
_SQLITE_AWAY = {
    sqlite3.SQLITE_PERM,
    sqlite3.SQLITE_NOMEM,
    sqlite3.SQLITE_READONLY,
    sqlite3.SQLITE_IOERR,
    sqlite3.SQLITE_CORRUPT,
    sqlite3.SQLITE_CANTOPEN,
    sqlite3.SQLITE_PROTOCOL,
    sqlite3.SQLITE_NOTADB,
}
# PostgreSQL manual, appendix A: full; kept by others for too long; unable to serve, mostly by whole classes.
_POSTGRESQL_FULL = "53100"
_POSTGRESQL_BUSY = ("40", "55P03", "57014")
_POSTGRESQL_AWAY = ("08", "25006", "53", "55", "57", "58", "XX")


@dataclass(frozen=True, slots=True)
class Reason:
    """Why the books cannot be reached, and what became of what was sent, in words for whoever sent it."""

    status: int
    title: str
    detail: str
    outcome: str


def reason(problem: BaseException | None) -> Reason | None:
    """Why the books are out of reach; None for a problem that is of another kind, such as a fault of ours."""
    if isinstance(problem, NotToBeOpened):
        return Reason(AWAY, _("Temporarily unavailable"), str(problem), _("Nothing was saved."))
    if isinstance(problem, DatabaseError | InterfaceError):
        cause = problem.__cause__
        if isinstance(cause, sqlite3.Error):
            return _of_sqlite(getattr(cause, "sqlite_errorcode", 0) & 0xFF)
        return _of_postgresql(problem, getattr(cause, "sqlstate", None))
    if isinstance(problem, OSError) and problem.errno in (errno.ENOSPC, errno.EDQUOT):
        return _full()
    return None


def page_for(request: HttpRequest) -> HttpResponse:
    """The page for a request that ended in an error nobody caught. Django calls it while handling that error."""
    problem = sys.exc_info()[1]
    outage = reason(problem)
    if outage is None:
        return server_error(request)
    note(problem)
    return not_kept(_in_html(request, outage))


def not_kept(answer: HttpResponse) -> HttpResponse:
    """An answer that nothing keeps, with when to ask again."""
    answer.headers["Cache-Control"] = "private, no-store"
    answer.headers["Retry-After"] = str(TRY_AGAIN_AFTER)
    return answer


def note(problem: BaseException | None) -> None:
    """Tell the keeper of the server, in one line of the log."""
    log.error("out of reach: %s", problem)


def in_words(outage: Reason, *, sent: bool) -> str:
    """A reason as a program is told it."""
    return f"{outage.title}. {outage.detail}" + (f" {outage.outcome}" if sent else "")


class WithoutTrace(logging.Filter):
    """Leaves out where in our code a request was when the books went out of reach: one line tells the keeper more."""

    def filter(self, record: logging.LogRecord) -> bool:
        if record.exc_info and reason(record.exc_info[1]) is not None:
            record.exc_info, record.exc_text = None, None
        return True


def _of_sqlite(code: int) -> Reason | None:
    if code == sqlite3.SQLITE_FULL:
        return _full()
    if code in _SQLITE_BUSY:
        return _busy()
    return _away() if code in _SQLITE_AWAY else None


def _of_postgresql(problem: BaseException, state: str | None) -> Reason | None:
    if not isinstance(problem, OperationalError | InternalError | InterfaceError):
        return None
    if state is None:  # nobody answered who could have given one
        return None if isinstance(problem, InternalError) else _away()
    if state == _POSTGRESQL_FULL:
        return _full()
    if state.startswith(_POSTGRESQL_BUSY):
        return _busy()
    return _away() if state.startswith(_POSTGRESQL_AWAY) else None


def _full() -> Reason:
    detail = _("There is no space left for the database. You can read but not save.")
    return Reason(FULL, _("The disk is full"), detail, _("Nothing was saved."))


def _busy() -> Reason:
    detail = _("Someone else's work is taking longer than expected.")
    return Reason(AWAY, _("Busy, please try again"), detail, _("Nothing was saved."))


def _away() -> Reason:
    detail = _("The database does not respond, or its file cannot be read.")
    outcome = _("Your entries were saved completely or not at all, never in part.")
    return Reason(AWAY, _("Database unavailable"), detail, outcome)


def _in_html(request: HttpRequest, outage: Reason) -> HttpResponse:
    """A page that needs no database: no name of the studio, no menu, but all that was typed."""
    sent = request.method == "POST"
    kept = _kept(request) if sent else []
    context = {
        "outage": outage,
        "sent": sent,
        "kept": kept,
        "is_keyed": any(name == "key" or name.endswith("-key") for name, _value in kept),
        "address": request.get_full_path(),
        "csrf_token": get_token(request) if kept else "",
    }
    return HttpResponse(render_to_string("503.html", context), status=outage.status)


def _kept(request: HttpRequest) -> list[tuple[str, str]]:
    """What was typed, to be sent again; nothing where a password or a file was part of it, which no page sends back."""
    try:
        fields = [(name, value) for name, values in request.POST.lists() for value in values]
        with_files = bool(request.FILES)
    except (UnreadablePostError, ValueError):
        return []
    fields = [(name, str(value)) for name, value in fields if name != "csrfmiddlewaretoken"]
    is_secret = any("password" in name for name, _value in fields)
    is_large = sum(len(name) + len(value) for name, value in fields) > MOST_KEPT
    return [] if with_files or is_secret or is_large else fields
