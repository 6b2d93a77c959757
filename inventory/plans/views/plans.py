"""The list of plans, and one plan with its answer, or beside the session that it became."""

from datetime import date, timedelta
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from inventory.comparisons.queries.blinding import hidden_arms
from inventory.plans.actions import copy_plan
from inventory.plans.filters import PlanFilter
from inventory.plans.models import Plan
from inventory.plans.queries import Promises, answer_of, outcome_of, stand_ins
from inventory.plans.tables import (
    OutcomeTable,
    PlanLineRow,
    PlanLineTable,
    PlanRow,
    PlanTable,
    SourceTable,
    StandInTable,
)
from inventory.sessions.queries.planning import Answer
from inventory.sessions.views.answers import described, samples_without
from inventory.shopping.queries import with_what_to_buy
from studio.accounts.roles import EVERYONE, WORKERS, current_user, role_required
from studio.errors import MeniscusError
from studio.pages.forms import KeyedForm
from studio.pages.papers import PaperForm
from studio.pages.saving import submission_from
from studio.pages.tables import list_page, page_of
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _

PER_PAGE = 50
SECTION = "inventory:plans"
A_WEEK = timedelta(days=7)


@require_safe
@role_required(*EVERYONE)
def plans(request: HttpRequest) -> HttpResponse:
    today = timezone.localdate()
    filters = PlanFilter(request.GET, Plan.objects.with_lines(), request=request)
    page_obj = page_of(request, filters.qs, PER_PAGE)
    short = Promises(today).short()
    rows = [PlanRow(plan, len(short.get(plan.pk, {})), today) for plan in page_obj]
    context = {
        "page_obj": page_obj,
        "filters": filters,
        "has_any": bool(page_obj) or Plan.objects.exists(),
        "may_write": current_user(request).may_write,
        "section": SECTION,
    }
    return list_page(request, "plans/list.html", PlanTable(rows, request, filters), context)


@require_safe
@role_required(*EVERYONE)
def plan(request: HttpRequest, pk: int) -> HttpResponse:
    today, user = timezone.localdate(), current_user(request)
    row = get_object_or_404(Plan.objects.with_lines(), pk=pk)
    lines, hides_arms = row.lines.all(), hidden_arms().hides_plan(row)
    decimal_comma = Formatter.of(current_studio(request)).decimal_comma
    context = {
        "plan": row,
        "title": row.name,
        "lines": PlanLineTable(
            [PlanLineRow(line, "" if hides_arms else line.arm, decimal_comma) for line in lines],
            request,
            without=() if any(line.poured for line in lines) else ("poured",),
        ),
        "sources": SourceTable(row.sources.all(), request, without=() if row.kept_lots else ("lot",)),
        "today": today,
        "is_overdue": not row.is_poured and row.planned_on < today,
        "may_write": user.may_write,
        "may_log": user.may_write,
        "copy_form": KeyedForm(studio=current_studio(request)),
        "back_url": reverse(SECTION),
        "back_label": _("Plans"),
        "section": SECTION,
        **(_poured(request, row) if row.is_poured else _waiting(request, row, today)),
    }
    return render(request, "plans/detail.html", context)


def _poured(request: HttpRequest, plan: Plan) -> dict[str, Any]:
    outcome = outcome_of(plan)
    materials = outcome.materials if outcome else []
    return {"outcome": outcome, "used": OutcomeTable(materials, request)}


def _waiting(request: HttpRequest, plan: Plan, today: date) -> dict[str, Any]:
    """The plan's answer; or what keeps it from having one."""
    day = max(plan.planned_on, today)
    promises = Promises(today)
    try:
        answer = answer_of(plan, today=today, promises=promises)
        answer = with_what_to_buy(answer, today, is_kept=True, promises=promises)
    except MeniscusError as problem:
        return {"answer": None, "problem": str(problem), "samples": samples_without(request, problem)}
    studio = current_studio(request)
    formatter = Formatter.of(studio)
    words = described(request, answer, formatter, day=day)
    return {
        **words,
        "sellers": list(dict.fromkeys(offer.supplier for _material, offer, _cost in words["buy"])),
        "answer": answer,
        "behind": _others(promises, answer, plan),
        "stand_ins": StandInTable(
            stand_ins(answer, promises.on(day, include_expired=plan.include_expired)), request
        ),
        "log_url": f"{reverse('inventory:session-new')}?plan={plan.pk}",
        "sheet_form": PaperForm.offered(studio, plan.name, *(need.material.name for need in answer.needs)),
        "change_url": reverse("inventory:plan-edit", args=[plan.pk]),
        "its_set": f"plan={plan.pk}",
        "order_url": reverse("inventory:shopping-list"),
    }


def _others(promises: Promises, answer: Answer, plan: Plan) -> list[Plan]:
    """The plans that come first and reserve some of what this one is short of."""
    short = {need.material.pk for need in answer.needs if need.short}
    return [
        each.plan
        for each in promises.reservations
        if (each.plan.planned_on, each.plan.pk) < (plan.planned_on, plan.pk)
        and short & each.quantities.keys()
    ]


@require_POST
@role_required(*WORKERS)
def copy(request: HttpRequest, pk: int) -> HttpResponse:
    """The same set once more, a week after the day it was planned for, or today where that has passed."""
    row = get_object_or_404(Plan.objects.with_lines(), pk=pk)
    form = KeyedForm(request.POST, studio=current_studio(request))
    key = form.cleaned_data["key"] if form.is_valid() else ""
    day = max(row.planned_on + A_WEEK, timezone.localdate())
    made = copy_plan(plan=row, on=day, submission=submission_from(request, key=key))
    messages.success(
        request, _("A copy of “{name}” has been saved. Change its day and lines here.", name=row)
    )
    return redirect("inventory:plan-edit", pk=made.pk)
