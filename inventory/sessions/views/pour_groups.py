"""Pours by technique, size and medium, and over time; here how much of them ran off."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.dateformat import format as date_format
from django.views.decorators.http import require_safe

from inventory.sessions.filters import GroupedPourFilter
from inventory.sessions.queries.pour_groups import PourGroup, PourGroups
from inventory.sessions.queries.run_off import measured_pours, run_off_of
from inventory.sessions.tables import RunOffTable
from studio.accounts.roles import EVERYONE, role_required
from studio.pages.charts import BAR_STEP, Bar, bars
from studio.pages.periods import period_links
from studio.pages.tables import Table
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _

MONTHS_DRAWN = 24


@require_safe
@role_required(*EVERYONE)
def run_off(request: HttpRequest) -> HttpResponse:
    filters = GroupedPourFilter(request.GET, measured_pours(), request=request)
    context = grouped(request, filters, run_off_of(filters.qs), RunOffTable) | {
        "title": _("Run-off"),
        "lead": _(
            "How much of what you poured ran over the edge, from the pours whose run-off you measured."
        ),
        "chart_title": _("Share that ran off, month by month"),
    }
    return render(request, "sessions/run_off.html", context)


def grouped(
    request: HttpRequest, filters: GroupedPourFilter, found: PourGroups[Any], table: type[Table[Any]]
) -> dict[str, Any]:
    """What a page of pours in groups shows of them."""
    tables = (
        ("techniques", _("By technique"), found.by_technique),
        ("sizes", _("By size"), found.by_size),
        ("media", _("By medium"), found.by_medium),
    )
    days = [filters.form.cleaned_data.get(name) if filters.is_valid() else None for name in ("first", "last")]
    months = found.by_month[-MONTHS_DRAWN:]
    return {
        "back_url": reverse("inventory:sessions"),
        "back_label": _("Sessions"),
        "section": "inventory:sessions",
        "filters": filters,
        "periods": period_links(request, today=timezone.localdate(), shown=(days[0], days[1])),
        "found": found,
        "tables": [(anchor, heading, table(groups, request)) for anchor, heading, groups in tables if groups],
        "bars": _bars(months, Formatter.of(current_studio(request))),
        "chart_width": BAR_STEP * max(len(months), 12),
    }


def _bars(months: Sequence[PourGroup], formatter: Formatter) -> list[Bar]:
    return bars(
        [
            (date_format(group.key, "M Y"), formatter.percent(group.share), group.share)
            for group in months
            if isinstance(group.key, date)
        ]
    )
