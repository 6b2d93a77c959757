"""How pours turned out: by technique, size and medium, and over time."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from inventory.comparisons.queries.outcomes import judged_pours, outcomes_of
from inventory.comparisons.tables import OutcomeTable
from inventory.sessions.filters import GroupedPourFilter
from inventory.sessions.views.pour_groups import grouped
from studio.accounts.roles import EVERYONE, role_required
from studio.translation import _


@require_safe
@role_required(*EVERYONE)
def outcomes(request: HttpRequest) -> HttpResponse:
    filters = GroupedPourFilter(request.GET, judged_pours(), request=request)
    context = grouped(request, filters, outcomes_of(filters.qs), OutcomeTable) | {
        "title": _("How pours turned out"),
        "lead": _("Which technique, size or medium fails how often, from the pours that you judged."),
        "chart_title": _("Share that failed, month by month"),
    }
    return render(request, "comparisons/outcomes.html", context)
