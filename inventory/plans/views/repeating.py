"""Repeating pours exactly: what was, what has changed since, and the plan that she makes of it."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from inventory.comparisons.queries.blinding import HiddenArms, hidden_arms
from inventory.plans.forms.plans import RepeatForm
from inventory.plans.repeating.repeats import (
    MOST_POURS,
    RepeatedLine,
    pours_to_repeat,
    repeat_pours,
    then_and_now,
)
from inventory.plans.tables import RepeatedLineTable, RepeatedRow
from studio.accounts.roles import WORKERS, role_required
from studio.errors import MeniscusError
from studio.pages.saving import form_status, saved, submission_from
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _
from studio.values.numbers import read_small_whole
from studio.values.units import Measure

LONGEST_NAME = 120


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def repeat(request: HttpRequest) -> HttpResponse:
    """The pours in ?pour=…&pour=…, or those of ?session=…, under ?name=…"""
    session = read_small_whole(request.GET.get("session", ""))
    numbers = [read_small_whole(text) or 0 for text in request.GET.getlist("pour")[: MOST_POURS + 1]]
    pours = pours_to_repeat(session=session, numbers=numbers)
    studio, hidden = current_studio(request), hidden_arms()
    formatter = Formatter.of(studio)
    try:
        document = then_and_now(pours, studio=studio, today=timezone.localdate())
    except MeniscusError as problem:
        messages.error(request, str(problem))
        return redirect("inventory:plans")
    name = request.GET.get("name", "").strip() or str(pours[0].session if session else pours[0])
    form = RepeatForm(
        request.POST if request.method == "POST" else None,
        changes=document.changes,
        studio=studio,
        initial={"name": name[:LONGEST_NAME], "planned_on": timezone.localdate()},
    )
    plan = saved(
        form,
        lambda: repeat_pours(
            pours=pours,
            name=form.cleaned_data["name"],
            on=form.cleaned_data["planned_on"],
            choices=form.choices,
            submission=submission_from(request, key=form.cleaned_data["key"]),
        ),
    )
    if plan is not None:
        messages.success(request, _("“{name}” has been saved.", name=plan))
        return redirect("inventory:plan", pk=plan.pk)
    context = {
        "title": _("Repeat exactly"),
        "lead": _(
            "The same recipe versions, amounts, technique and surfaces, and the same lots where there are any."
        ),
        "form": form,
        "document": document,
        "lines": RepeatedLineTable([_row(line, formatter, hidden) for line in document.lines], request),
        "send": _("Save plan"),
        "back_url": reverse("inventory:session", args=[pours[0].session_id]),
        "back_label": pours[0].session,
        "section": "inventory:plans",
    }
    return render(request, "plans/repeat.html", context, status=form_status(form))


def _row(line: RepeatedLine, formatter: Formatter, hidden: HiddenArms) -> RepeatedRow:
    amounts = (
        f"{formatter.short_quantity(volume, Measure.VOLUME)} {material}"
        for material, volume in line.volumes.items()
    )
    return RepeatedRow(line, ", ".join(amounts), hidden.arm_of(line.first))
