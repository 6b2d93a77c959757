"""What needs attention: by kind, the most urgent first; each alert with its history, acknowledged or snoozed."""

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from inventory.alerts.actions.answers import acknowledge, show_again, snooze
from inventory.alerts.actions.refreshing import refresh_alerts
from inventory.alerts.filters import AlertFilter
from inventory.alerts.forms import SnoozeForm
from inventory.alerts.models import Alert, AlertState
from inventory.alerts.queries import (
    ShownAlert,
    alerts_for,
    by_urgency,
    counts_by_kind,
    counts_by_state,
    grouped,
    last_check,
    not_reached,
    shown,
)
from inventory.alerts.rules.levels import STOCK_KINDS
from inventory.alerts.tables import AlertEventTable, AlertTable
from inventory.plans.queries import Promises
from inventory.shopping.queries import shopping_list
from studio.accounts.roles import EVERYONE, WORKERS, current_user, role_required
from studio.pages.saving import acted, form_status, saved, submission_from
from studio.pages.tables import list_page, page_of
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _

PER_PAGE = 30
IN_SIGHT, OF_A_KIND = 6, 3  # so many alerts, and so many of a kind, are not folded: own choice
PROBLEMS_TOLD_FOR = timedelta(days=14)
SNOOZED_DAYS = 7
SECTION = "inventory:alerts"


@require_safe
@role_required(*EVERYONE)
def alerts(request: HttpRequest) -> HttpResponse:
    user, today = current_user(request), timezone.localdate()
    filters = AlertFilter(request.GET, alerts_for(user), request=request)
    page_obj = page_of(request, by_urgency(filters.qs.select_related("material")), PER_PAGE)
    formatter, promises = Formatter.of(current_studio(request)), Promises(today)
    rows = _with_purchases(shown(page_obj, on=today, formatter=formatter, promises=promises), today, promises)
    check = last_check()
    context: dict[str, Any] = {
        "groups": _groups(filters, rows),
        "filters": filters,
        "page_obj": page_obj,
        "total": page_obj.paginator.count,
        "is_open_list": (filters.value("state") or AlertState.OPEN) == AlertState.OPEN,
        "others": _others(user, today),
        "low": any(row.kind.code in STOCK_KINDS for row in rows),
        "checked_at": check.at if check else None,
        "is_check_old": check is None or check.day < today,
        "snooze_until": today + timedelta(days=SNOOZED_DAYS),
        "not_reached": not_reached(since=timezone.now() - PROBLEMS_TOLD_FOR) if user.is_owner else {},
    }
    return list_page(request, "alerts/list.html", AlertTable(rows, request, filters), context)


def _with_purchases(rows: list[ShownAlert], today: date, promises: Promises) -> list[ShownAlert]:
    """The same rows, those of low materials with what the shopping list says of them."""
    low = [row.level.material.pk for row in rows if row.level]
    if not low:
        return rows
    buys = shopping_list(today, promises=promises).buys(low)
    return [replace(row, buys=tuple(buys[row.level.material.pk])) if row.level else row for row in rows]


def _groups(filters: AlertFilter, rows: list[ShownAlert]) -> list[dict[str, Any]]:
    """The rows of a page by kind, the newest of each first, with how many of each kind there are on all pages.

    The most urgent stand in sight and the others folded, or the last kind would be many screens of a phone away; a
    list that was narrowed is what was asked for, and stands whole.
    """
    counts = counts_by_kind(filters.qs)
    room, most = (PER_PAGE, PER_PAGE) if filters.is_narrowed() else (IN_SIGHT, OF_A_KIND)
    groups = []
    for kind, alike in grouped(rows):
        newest_first = sorted(alike, key=lambda row: row.alert.raised_at, reverse=True)
        open_rows, folded = newest_first[: min(room, most)], newest_first[min(room, most) :]
        room -= len(open_rows)
        groups.append({"kind": kind, "number": counts[kind.code], "rows": open_rows, "folded": folded})
    return groups


def _others(user: Any, today: date) -> list[dict[str, Any]]:
    """The standing alerts that wait for nothing, by state, with the list of each."""
    counts = counts_by_state(user, today)
    address = reverse(SECTION)
    return [
        {"label": AlertState(state).label, "number": number, "url": f"{address}?state={state}"}
        for state, number in counts.items()
        if number
    ]


@require_POST
@role_required(*WORKERS)
def alerts_refresh(request: HttpRequest) -> HttpResponse:
    refreshed = refresh_alerts(on=timezone.localdate(), at=timezone.now())
    messages.success(
        request,
        _(
            "Everything checked. New alerts: {raised}, cleared: {cleared}.",
            raised=len(refreshed.raised),
            cleared=len(refreshed.cleared),
        ),
    )
    return redirect(SECTION)


@require_safe
@role_required(*EVERYONE)
def alert(request: HttpRequest, pk: int) -> HttpResponse:
    return _alert_page(request, _found(request, pk), _snooze_form(request))


@require_POST
@role_required(*WORKERS)
def alert_acknowledge(request: HttpRequest, pk: int) -> HttpResponse:
    found = _found(request, pk)
    acted(
        request,
        lambda: acknowledge(alert=found, submission=submission_from(request)),
        _("Acknowledged. It stays quiet until its reason is gone."),
    )
    return _back(request, found)


@require_POST
@role_required(*WORKERS)
def alert_show_again(request: HttpRequest, pk: int) -> HttpResponse:
    found = _found(request, pk)
    acted(
        request,
        lambda: show_again(alert=found, submission=submission_from(request)),
        _("The alert is open again."),
    )
    return _back(request, found)


@require_http_methods(["POST"])
@role_required(*WORKERS)
def alert_snooze(request: HttpRequest, pk: int) -> HttpResponse:
    """Snooze an alert until the day that was sent; a refused day brings the alert's own page back."""
    found, form = _found(request, pk), SnoozeForm(request.POST, studio=current_studio(request))
    snoozed = saved(
        form,
        lambda: snooze(alert=found, until=form.cleaned_data["until"], submission=submission_from(request)),
    )
    if snoozed is None:
        return _alert_page(request, found, form)
    until = Formatter.of(current_studio(request)).day(snoozed.snoozed_until)
    messages.success(request, _("Snoozed until {day}.", day=until))
    return _back(request, found)


def _found(request: HttpRequest, pk: int) -> Alert:
    return get_object_or_404(alerts_for(current_user(request)), pk=pk)


def _snooze_form(request: HttpRequest) -> SnoozeForm:
    first = {"until": timezone.localdate() + timedelta(days=SNOOZED_DAYS)}
    return SnoozeForm(initial=first, studio=current_studio(request))


def _alert_page(request: HttpRequest, found: Alert, form: SnoozeForm) -> HttpResponse:
    row = shown([found], on=timezone.localdate(), formatter=Formatter.of(current_studio(request)))[0]
    context = {
        "title": row.name,
        "lead": row.kind.label,
        "row": row,
        "form": form,
        "events": AlertEventTable(found.events.select_related("by"), request),
        "rule": row.kind.rule_in_words,
        "may_answer": current_user(request).may_write and found.cleared_at is None,
        "back_url": reverse(SECTION),
        "back_label": _("Alerts"),
        "section": SECTION,
    }
    return render(request, "alerts/alert.html", context, status=form_status(form))


def _back(request: HttpRequest, found: Alert) -> HttpResponse:
    """To where the button was pressed: the list, Today, or the alert's own page."""
    then = request.POST.get("then", "")
    if then.startswith("/") and url_has_allowed_host_and_scheme(then, allowed_hosts=None):
        return HttpResponseRedirect(then)  # an address as it stands, never the name of one
    return redirect("inventory:alert", pk=found.pk)
