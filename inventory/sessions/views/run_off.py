"""How much runs off, by technique, size and medium, and over time."""

from collections.abc import Sequence
from datetime import date

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.dateformat import format as date_format
from django.views.decorators.http import require_safe

from inventory.sessions.filters import RunOffFilter
from inventory.sessions.queries.run_off import RunOffGroup, measured_pours, run_off_of
from inventory.sessions.tables import RunOffTable
from studio.accounts.roles import EVERYONE, role_required
from studio.pages.charts import BAR_STEP, Bar, bars
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _

MONTHS_DRAWN = 24


@require_safe
@role_required(*EVERYONE)
def run_off(request: HttpRequest) -> HttpResponse:
    filters = RunOffFilter(request.GET, measured_pours(), request=request)
    found = run_off_of(filters.qs)
    formatter = Formatter.of(current_studio(request))
    months = found.by_month[-MONTHS_DRAWN:]
    tables = (
        ("techniques", _("By technique"), found.by_technique),
        ("sizes", _("By size"), found.by_size),
        ("media", _("By medium"), found.by_medium),
    )
    context = {
        "title": _("Run-off"),
        "lead": _(
            "How much of what you poured ran over the edge, from the pours whose run-off you measured."
        ),
        "back_url": reverse("inventory:sessions"),
        "back_label": _("Sessions"),
        "section": "inventory:sessions",
        "filters": filters,
        "found": found,
        "tables": [
            (anchor, heading, RunOffTable(groups, request)) for anchor, heading, groups in tables if groups
        ],
        "bars": _bars(months, formatter),
        "chart_width": BAR_STEP * max(len(months), 12),
    }
    return render(request, "sessions/run_off.html", context)


def _bars(months: Sequence[RunOffGroup], formatter: Formatter) -> list[Bar]:
    return bars(
        [
            (date_format(group.key, "M Y"), formatter.percent(group.share), group.share)
            for group in months
            if isinstance(group.key, date)
        ]
    )
