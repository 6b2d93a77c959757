"""The list of sessions: filtered, newest first, page by page."""

from django.db.models import Count, Q, Sum
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_safe

from inventory.ledger.models import Entry, Place
from inventory.sessions.filters import SessionFilter
from inventory.sessions.models import Pour, Session
from inventory.sessions.tables import SessionRow, SessionTable
from studio.accounts.roles import EVERYONE, current_user, role_required
from studio.pages.tables import list_page, page_of

PER_PAGE = 50


@require_safe
@role_required(*EVERYONE)
def sessions(request: HttpRequest) -> HttpResponse:
    filters = SessionFilter(
        request.GET, Session.objects.select_related("posting__reversed_by"), request=request
    )
    page_obj = page_of(request, filters.qs, PER_PAGE)
    context = {
        "page_obj": page_obj,
        "filters": filters,
        "may_log": current_user(request).may_write,
        "repeat": repeat_url(latest_session()),
    }
    table = SessionTable(session_rows(list(page_obj)), request, filters)
    return list_page(request, "sessions/list.html", table, context)


def latest_session() -> Session | None:
    """The last session that stands."""
    latest: Session | None = Session.objects.standing().order_by("-held_on", "-pk").first()
    return latest


def repeat_url(session: Session | None) -> str:
    """The address that writes a session into a new form; empty when there is none."""
    return f"{reverse('inventory:session-new')}?repeat={session.pk}" if session else ""


def session_rows(sessions: list[Session]) -> list[SessionRow]:
    """What the list says of each session, in three queries however many there are."""
    numbers = [session.pk for session in sessions]
    pours = Pour.objects.filter(session__in=numbers).order_by()
    counts = {
        session: (pours_in_all, failed)
        for session, pours_in_all, failed in pours.values_list("session_id").annotate(
            pours=Count("pk"), failed=Count("pk", filter=Q(outcome=Pour.Outcome.FAILED))
        )
    }
    named: dict[int, list[str]] = {}
    for session, name in (
        pours.values_list("session_id", "technique__name").distinct().order_by("technique__name")
    ):
        named.setdefault(session, []).append(name)
    costs = dict(
        Entry.objects.filter(posting__in=[session.posting_id for session in sessions], place=Place.WORK)
        .order_by()
        .values_list("posting_id")
        .annotate(total=Sum("money"))
    )
    return [
        SessionRow(
            session,
            ", ".join(named.get(session.pk, [])),
            *counts.get(session.pk, (0, 0)),
            costs.get(session.posting_id, 0),
        )
        for session in sessions
    ]
