"""Session pages: logging one, and one with its mixes, pours and comparison."""

from typing import Any

from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import URLPattern, path
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from inventory import comparison, mixing
from inventory.forms.bench import Bench
from inventory.forms.repeats import Repeat
from inventory.forms.sessions import SessionSheet
from inventory.models import Session
from inventory.session_account import PourAccount, account_of, arms_of
from inventory.sessions import SessionFacts, log_session
from inventory.views import batches, pours, session_list
from inventory.views.after import stock_changed
from inventory.views.delivery_list import whole_number
from inventory.views.session_list import latest_session, repeat_url
from studio.context import current
from studio.errors import MeniscusError
from studio.money import share_to_minor
from studio.roles import EVERYONE, WORKERS, page, signed_in
from studio.showing import Shown

DRAFT = "session-new"


@require_http_methods(["GET", "POST"])
@page(*WORKERS)
def new(request: HttpRequest) -> HttpResponse:
    studio = current(request)
    bench = Bench.for_sessions(Shown.of(studio))
    if request.method != "POST":
        return _page(request, _first(request, bench))
    asked = request.POST.get("do", "")
    if asked:
        more = asked.removeprefix("more-") if asked.startswith("more-") else ""
        return _page(
            request, SessionSheet.worked_out(studio=studio, bench=bench, data=request.POST, more=more)
        )
    sheet = SessionSheet.sent(studio=studio, bench=bench, data=request.POST)
    facts = sheet.facts()
    session = _log(request, sheet, facts) if facts is not None else None
    return redirect("inventory:session", pk=session.pk) if session else _page(request, sheet, status=422)


def _first(request: HttpRequest, bench: Bench) -> SessionSheet:
    """An empty page, or an earlier session written in again as ?repeat=…"""
    main: dict[str, Any] = {"held_on": timezone.localdate()}
    rows: dict[str, list[dict[str, Any]]] = {}
    if "repeat" in request.GET:
        earlier = get_object_or_404(_named(Session.objects.all()), pk=whole_number(request.GET["repeat"]))
        repeat = Repeat(account_of(earlier), bench)
        main, rows = main | repeat.main(), repeat.rows()
    return SessionSheet.fresh(studio=current(request), bench=bench, main=main, rows=rows)


def _log(request: HttpRequest, sheet: SessionSheet, facts: SessionFacts) -> Session | None:
    """Post the session; a refusal goes onto the page."""
    said = sheet.form.cleaned_data
    try:
        session = log_session(
            facts=facts,
            by=signed_in(request),
            at=timezone.now(),
            key=said["key"],
            confirm_gain=said["confirm_gain"],
        )
    except MeniscusError as problem:
        sheet.refuse(problem)
        return None
    stock_changed(request)
    messages.success(
        request, "Session posted. Write each label on the back of its surface.", extra_tags=DRAFT
    )
    return session


def _page(request: HttpRequest, sheet: SessionSheet, *, status: int = 200) -> HttpResponse:
    context = {
        "sheet": sheet,
        "draft": DRAFT,
        "is_filled": request.method == "POST" or "repeat" in request.GET,
        "repeat": repeat_url(latest_session()),
        "section": "inventory:sessions",
    }
    return render(request, "inventory/session/new.html", context, status=status)


@require_safe
@page(*EVERYONE)
def session(request: HttpRequest, pk: int) -> HttpResponse:
    user = signed_in(request)
    found = get_object_or_404(_named(Session.objects.all()), pk=pk)
    account = account_of(found)
    arms = arms_of(account.pours)
    compared = comparison.compare(arms)
    costs = [pour.cost for pour in account.pours]
    reversal = getattr(found.posting, "reversed_by", None)
    context = {
        "account": account,
        "session": found,
        "reversal": reversal,
        "watery": [mix for mix in account.mixes if mixing.is_too_watery(mix.mix.water_share)],
        "pours": zip(account.pours, share_to_minor(costs, current(request).currency), strict=True),
        "failed": sum(pour.pour.outcome == pour.pour.Outcome.FAILED for pour in account.pours),
        "sundries": _sundries(account.pours),
        "arms": compared,
        "differences": comparison.other_differences(arms),
        "poured_unlike": comparison.poured_unlike(compared),
        "may_write": user.may_write,
        "repeat": repeat_url(found),
        "may_take_back": user.may_write and reversal is None,
        "section": "inventory:sessions",
    }
    return render(request, "inventory/session/detail.html", context)


def _named(found: QuerySet[Session]) -> QuerySet[Session]:
    return found.select_related("posting__recorded_by", "posting__reversed_by")


def _sundries(accounts: list[PourAccount]) -> list[dict[str, Any]]:
    """Gloves and the like, summed over the pours they were charged to."""
    used: dict[int, dict[str, Any]] = {}
    for line in (line for account in accounts for line in account.lines if line.role == "sundry"):
        item = used.setdefault(line.material.pk, {"material": line.material, "quantity": 0, "money": 0})
        item["quantity"] += line.quantity
        item["money"] += line.money
    return list(used.values())


urlpatterns: list[URLPattern] = [
    *session_list.urlpatterns,
    path("sessions/new/", new, name="session-new"),
    path("sessions/<int:pk>/", session, name="session"),
    *pours.urlpatterns,
    *batches.urlpatterns,
]
