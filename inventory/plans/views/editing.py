"""Keeping a plan, changing it, and deleting it."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from inventory.comparisons.queries.blinding import hidden_arms
from inventory.materials.forms.written_lines import READ, must_read
from inventory.plans.actions import save_plan
from inventory.plans.forms.plans import (
    LONGEST_NAME,
    MOST_LINES,
    SPARE_LINES,
    NewPlanForm,
    PlanByRatioForm,
    PlanEditForm,
    PlanForm,
    PlanLineForm,
    PlanLines,
    colours_for,
    rows_of_plan,
    rows_of_set,
)
from inventory.plans.forms.written_lines import WrittenPlanForm
from inventory.plans.models import Plan
from inventory.recipes.actions.ratios import mix_by_ratio
from inventory.recipes.forms.by_ratio import BUTTON, applied
from inventory.recipes.forms.choices import FormChoices
from inventory.sessions.forms.stock_check import StockCheckForm
from inventory.sessions.queries.planning import SetPlan
from studio.accounts.roles import WORKERS, current_user, role_required
from studio.auditing.queries import last_change_number
from studio.errors import MeniscusError
from studio.pages.formsets import as_sent, data_of_rows, typed_rows
from studio.pages.reference import DeleteView
from studio.pages.saving import form_status, saved, submission_from
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.submission import Submission
from studio.translation import _, ngettext

SECTION, LINES = "inventory:plans", "lines"


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def new(request: HttpRequest) -> HttpResponse:
    """A new plan; one that was asked about as a question comes filled in."""
    first: dict[str, Any] = {"planned_on": timezone.localdate()}
    rows: list[dict[str, Any]] = []
    if "surface" in request.GET:
        asked = StockCheckForm.from_query(request.GET, form_choices=FormChoices(current_studio(request)))
        if asked.is_valid():
            wanted = asked.plan()
            rows = rows_of_set(wanted)
            first |= {
                "name": _named_by(wanted),
                "planned_on": asked.cleaned_data["planned_on"] or first["planned_on"],
                "extra_paint": asked.cleaned_data["reserve"],
                "include_expired": asked.cleaned_data["include_expired"],
            }
    page = _Page(request, NewPlanForm, first, rows)
    plan = page.saved(lambda submission: save_plan(facts=page.form.facts(page.lines), submission=submission))
    if plan is not None:
        messages.success(request, _("“{name}” has been saved.", name=plan), extra_tags="plan-new")
        return redirect("inventory:plan", pk=plan.pk)
    back = {"back_url": reverse(SECTION), "back_label": _("Plans"), "draft": "plan-new"}
    return page.answer(title=_("New plan"), is_open="ratio" in request.GET, **back)


def _named_by(wanted: SetPlan) -> str:
    """What is to be poured, as a name to be changed: "3 × Canvas 30 × 40 cm, Ring pour"."""
    surfaces = " + ".join(f"{line.count} × {line.surface}" for line in wanted.lines)
    return f"{surfaces}, {wanted.lines[0].technique}"[:LONGEST_NAME]


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def edit(request: HttpRequest, pk: int) -> HttpResponse:
    seen = last_change_number(Plan, pk)
    plan = get_object_or_404(Plan.objects.with_lines(), pk=pk)
    names = ("name", "planned_on", "extra_paint", "include_expired", "notes")
    first = {"seen": seen, **{name: getattr(plan, name) for name in names}}
    formatter, hides_arms = Formatter.of(current_studio(request)), hidden_arms().hides_plan(plan)
    rows = rows_of_plan(plan, formatter, hides_arms=hides_arms)
    page = _Page(request, PlanEditForm, first, rows, plan=plan)
    changed = page.saved(
        lambda submission: save_plan(
            facts=page.form.facts(page.lines),
            submission=submission,
            plan=plan,
            seen=page.form.cleaned_data["seen"],
        )
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
    return page.answer(**context)


class _Page:
    """The forms of the page: as they open, as they were sent to be saved, or with more rows that a button asked for."""

    def __init__(
        self,
        request: HttpRequest,
        form_class: type[PlanForm],
        first: dict[str, Any],
        rows: list[dict[str, Any]],
        plan: Plan | None = None,
    ) -> None:
        self.request, self.studio, self.plan = request, current_studio(request), plan
        data: Any = request.POST if request.method == "POST" else None
        self.by_ratio = PlanByRatioForm(data, form_choices=self._form_choices())
        button = (data or {}).get("do") or (BUTTON if self.by_ratio.says_something else "")
        self.by_ratio.hides_errors = button != BUTTON  # it is sent with the page, whatever it was sent for
        is_written = data is not None and must_read(data)
        self.written = WrittenPlanForm(data if is_written else None, studio=self.studio)
        self.is_filled_in = bool(button) or is_written
        if data is None:
            self.by_ratio = PlanByRatioForm(form_choices=self.by_ratio.form_choices)
        else:
            rows = list(typed_rows(data, LINES, at_most=MOST_LINES))
        if self.is_filled_in:
            if is_written:
                rows = self._with_written()
            rows = self._more(rows, button or READ)
            data = as_sent(data) | data_of_rows(LINES, rows, PlanLineForm)
        kept = {"sources": plan.sources.all()} if plan else {}
        self.form = form_class(data, studio=self.studio, initial=first, **kept)
        given: dict[str, Any] = {"initial": rows, "spare": 0 if rows else SPARE_LINES} if data is None else {}
        common = {"form_choices": self.by_ratio.form_choices, "colours": colours_for(rows)}
        self.lines = PlanLines(data, prefix=LINES, form_kwargs=common, **given)
        for each in (self.form, *self.lines.forms) if self.is_filled_in else ():
            each.hides_errors = True

    def _form_choices(self) -> FormChoices:
        """What can be chosen; what a plan names already can, though it may be archived by now."""
        may_add = current_user(self.request).is_owner
        if self.plan is None:
            return FormChoices(self.studio, may_add=may_add)
        named = self.plan.named_materials
        return FormChoices(self.studio, versions=self.plan.kept_versions, also=named, may_add=may_add)

    def _more(self, rows: list[dict[str, Any]], button: str) -> list[dict[str, Any]]:
        """The rows with what a button adds: one more, a copy of the last, or what comes of a ratio."""
        if button == READ:
            return rows
        if button == BUTTON:
            return self._with_ratio(rows)
        added = dict(rows[-1]) if button == f"copy-{LINES}" and rows else {}
        for name in ("DELETE", "written"):
            added.pop(name, None)
        return [*rows, added][:MOST_LINES]

    def _with_written(self) -> list[dict[str, Any]]:
        """The rows typed so far, and those that are read from the text, which is blank again unless it is refused."""
        rows = self.written.rows(self.request, self.by_ratio.form_choices)
        if not self.written.errors:
            self.written = WrittenPlanForm(studio=self.studio)
        return rows

    def _with_ratio(self, rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
        form = self.by_ratio
        use = applied(form)
        if use is None:
            return rows
        try:
            mixed = mix_by_ratio(use=use, submission=submission_from(self.request))
        except MeniscusError as problem:
            form.refuse(problem)
            return rows
        added = form.rows(mixed)
        n = len(added)
        messages.success(
            self.request,
            ngettext(
                "{n} row added. Check it, then save the plan.",
                "{n} rows added. Check them, then save the plan.",
                n,
                n=n,
            ),
        )
        self.by_ratio = form.again(self._form_choices())  # recipes are read anew
        begun = [row for row in rows if row.get("surface") or row.get("new_surface") or row.get("colour_1")]
        return [*begun, *added][:MOST_LINES]

    def saved(self, action: Callable[[Submission], Plan]) -> Plan | None:
        """The plan once it is saved, with the surfaces that its rows add: all of it or nothing."""
        if self.is_filled_in:
            return None
        new = self.by_ratio.form_choices.new_surfaces

        def save() -> Plan:
            submission = submission_from(self.request, key=self.form.cleaned_data.get("key", ""))
            return new.saving_first(lambda: action(submission), submission)

        return saved(self.form, save, lines=self.lines)

    def answer(self, **context: Any) -> HttpResponse:
        context |= {
            "form": self.form,
            "formset": self.lines,
            "by_ratio": self.by_ratio,
            "written": self.written,
            "lead": _("What you plan to pour, and when. What it needs is reserved until you pour it."),
            "send": _("Save plan"),
            "section": SECTION,
        }
        status = 200 if self.is_filled_in else form_status(self.form)
        status = 422 if self.written.errors else status
        return render(self.request, "plans/edit.html", context, status=status)


class PlanDelete(DeleteView):
    model = Plan
    roles = WORKERS
    edit_name = "inventory:plan"
    list_name = SECTION
    note = gettext_lazy("What it reserved becomes available again. Its session, if it was poured, is kept.")
