"""Session pages: the list, and one session with its mixes, pours, photos and comparisons."""

from collections.abc import Sequence

from django.db.models import Prefetch
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from inventory.comparisons.queries.blinding import hidden_arms
from inventory.comparisons.queries.progress import comparisons_of
from inventory.ledger.views.undo import undo_of
from inventory.sessions.filters import SessionFilter
from inventory.sessions.models import Pour, Session
from inventory.sessions.onward import onward_from
from inventory.sessions.queries.mixing_time import minutes_not_charged
from inventory.sessions.queries.pours import bare_failed_pours
from inventory.sessions.queries.session_costs import SessionAccount, account_of, costs_of
from inventory.sessions.tables import PourRow, PourTable, SessionRow, SessionTable
from inventory.sessions.views.photos import photos_on
from inventory.sessions.views.weighings import described_weighings
from inventory.stock.changes import stock_changes
from studio.accounts.roles import EVERYONE, current_user, role_required
from studio.pages.tables import list_page, page_of
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _

PER_PAGE = 25


@require_safe
@role_required(*EVERYONE)
def sessions(request: HttpRequest) -> HttpResponse:
    pours = Prefetch("pours", Pour.objects.select_related("technique").order_by("technique__name"))
    sessions = Session.objects.select_related("posting__reversed_by").prefetch_related(pours)
    filters = SessionFilter(request.GET, sessions, request=request)
    page_obj = page_of(request, filters.qs, PER_PAGE)
    context = {
        "page_obj": page_obj,
        "filters": filters,
        "what": _("sessions"),
        "may_log": current_user(request).may_write,
        "repeat": repeat_url(latest_session()),
    }
    table = SessionTable(_with_cost(list(page_obj)), request, filters)
    return list_page(request, "sessions/list.html", table, context)


def latest_session() -> Session | None:
    """The last session that stands."""
    latest: Session | None = Session.objects.standing().order_by("-held_on", "-pk").first()
    return latest


def repeat_url(session: Session | None) -> str:
    """The address that writes a session into a new form; empty when there is none."""
    return f"{reverse('inventory:session-new')}?repeat={session.pk}" if session else ""


def _with_cost(sessions: Sequence[Session]) -> list[SessionRow]:
    """Each session with the materials in its pours."""
    costs = costs_of(sessions)
    return [SessionRow(session, costs.get(session.pk, 0)) for session in sessions]


@require_safe
@role_required(*EVERYONE)
def session(request: HttpRequest, pk: int) -> HttpResponse:
    user, studio = current_user(request), current_studio(request)
    session = get_object_or_404(
        Session.objects.select_related("posting__recorded_by", "posting__reversed_by"), pk=pk
    )
    account = account_of(session)
    reversal = getattr(session.posting, "reversed_by", None)
    context = {
        "title": session,
        "back_url": reverse("inventory:sessions"),
        "back_label": _("Sessions"),
        "account": account,
        "corrections": session.posting.corrected_by.select_related("recorded_by").order_by("number"),
        "session": session,
        "reversal": reversal,
        "watery": [mix for mix in account.mixes if mix.mix.water_share > studio.water_limit],
        "off_recipe": account.look_for_mixes_off_recipe(studio),
        "pours": _pour_table(request, account),
        "weighings": described_weighings(request, session, account),
        "not_charged": minutes_not_charged(session),
        "failed": sum(pour.pour.outcome == pour.pour.Outcome.FAILED for pour in account.pours),
        "comparisons": comparisons_of(session),
        "may_compare": user.may_write and reversal is None and len(account.pours) > 1,
        "may_write": user.may_write,
        "repeat": repeat_url(session),
        "repeat_query": f"?session={session.pk}",
        "may_throw_away": user.may_write and bare_failed_pours().filter(session=session).exists(),
        "may_reverse": user.may_write and reversal is None,
        "onward": onward_from(session) if user.may_write and reversal is None and account.pours else [],
        "undo": (undo := undo_of(request, session.posting)),
        "changes": stock_changes(session.posting) if undo else [],
        "section": "inventory:sessions",
        **photos_on(request, session, pours=[item.pour for item in account.pours]),
    }
    return render(request, "sessions/detail.html", context)


def _pour_table(request: HttpRequest, account: SessionAccount) -> PourTable:
    """The pours with what their materials cost, and the session's sum below them."""
    formatter, hidden = Formatter.of(current_studio(request)), hidden_arms()
    rows = [
        PourRow(
            pour,
            "" if pour.run_off_share is None else formatter.percent(pour.run_off_share),
            hidden.arm_of(pour.pour),
        )
        for pour in account.pours
    ]
    has_total = len(rows) > 1 and current_user(request).sees_money
    return PourTable(rows, request, totals={"cost": account.cost} if has_total else {})
