"""Keeping a plan, changing it, and deleting it."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from inventory.plans.actions import save_plan
from inventory.plans.forms import (
    MOST_LINES,
    SPARE_LINES,
    NewPlanForm,
    PlanEditForm,
    PlanForm,
    PlanLines,
    colours_for,
    rows_of_plan,
    rows_of_set,
)
from inventory.plans.models import Plan
from inventory.recipes.forms.choices import FormChoices
from inventory.sessions.forms.stock_check import StockCheckForm
from studio.accounts.roles import WORKERS, role_required
from studio.auditing.queries import last_change_number
from studio.pages.formsets import typed_rows
from studio.pages.reference import DeleteView
from studio.pages.saving import form_status, saved, submission_from
from studio.preferences.context import current_studio
from studio.translation import _

SECTION, LINES = "inventory:plans", "lines"


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def new(request: HttpRequest) -> HttpResponse:
    """A new plan; one that was asked about as a question comes filled in."""
    form_choices = FormChoices(current_studio(request))
    first: dict[str, Any] = {"planned_on": timezone.localdate()}
    rows: list[dict[str, Any]] = []
    if "surface" in request.GET:
        asked = StockCheckForm.from_query(request.GET, form_choices=form_choices)
        if asked.is_valid():
            rows = rows_of_set(asked.plan())
            first |= {
                "planned_on": asked.cleaned_data["planned_on"] or first["planned_on"],
                "extra_paint": asked.cleaned_data["reserve"],
                "include_expired": asked.cleaned_data["include_expired"],
            }
    form, lines = _forms(request, NewPlanForm, form_choices, first, rows)
    plan = saved(
        form,
        lambda: save_plan(
            facts=form.facts(lines), submission=submission_from(request, key=form.cleaned_data["key"])
        ),
        lines=lines,
    )
    if plan is not None:
        messages.success(request, _("“{name}” has been saved.", name=plan), extra_tags="plan-new")
        return redirect("inventory:plan", pk=plan.pk)
    back = {"back_url": reverse(SECTION), "back_label": _("Plans"), "draft": "plan-new"}
    return _page(request, form, lines, title=_("New plan"), **back)


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def edit(request: HttpRequest, pk: int) -> HttpResponse:
    seen = last_change_number(Plan, pk)
    plan = get_object_or_404(Plan.objects.with_lines(), pk=pk)
    form_choices = FormChoices(current_studio(request))
    names = ("name", "planned_on", "extra_paint", "include_expired", "notes")
    first = {"seen": seen, **{name: getattr(plan, name) for name in names}}
    form, lines = _forms(request, PlanEditForm, form_choices, first, rows_of_plan(plan))
    changed = saved(
        form,
        lambda: save_plan(
            facts=form.facts(lines),
            submission=submission_from(request),
            plan=plan,
            seen=form.cleaned_data["seen"],
        ),
        lines=lines,
    )
    if changed is not None:
        messages.success(request, _("“{name}” has been saved.", name=changed))
        return redirect("inventory:plan", pk=pk)
    context = {
        "title": _("Edit {name}", name=plan),
        "back_url": reverse("inventory:plan", args=[pk]),
        "back_label": plan.name,
        "delete_url": reverse("inventory:plan-delete", args=[pk]),
    }
    return _page(request, form, lines, **context)


def _forms(
    request: HttpRequest,
    form_class: type[PlanForm],
    form_choices: FormChoices,
    first: dict[str, Any],
    rows: list[dict[str, Any]],
) -> tuple[PlanForm, Any]:
    """The plan as it was sent; or the first values, with a row to begin with or one to spare."""
    data = request.POST if request.method == "POST" else None
    if data is not None:
        rows = list(typed_rows(data, LINES, at_most=MOST_LINES))
    common = {"form_choices": form_choices, "colours": colours_for(rows)}
    given: dict[str, Any] = {} if data is not None else {"initial": rows, "spare": 0 if rows else SPARE_LINES}
    form = form_class(data, studio=form_choices.studio, initial=first)
    return form, PlanLines(data, prefix=LINES, form_kwargs=common, **given)


def _page(request: HttpRequest, form: PlanForm, lines: Any, **context: Any) -> HttpResponse:
    context |= {
        "form": form,
        "formset": lines,
        "lead": _("What you plan to pour, and when. What it needs is reserved until you pour it."),
        "send": _("Save plan"),
        "section": SECTION,
    }
    return render(request, "plans/edit.html", context, status=form_status(form))


class PlanDelete(DeleteView):
    model = Plan
    roles = WORKERS
    edit_name = "inventory:plan"
    list_name = SECTION
    note = gettext_lazy("What it reserved becomes available again. Its session, if it was poured, is kept.")
