"""Judging the pours of a session, wet and again dry; and the pages of the list of flaws."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_safe

from inventory.sessions.actions.judging import JudgementFacts, judge_pours
from inventory.sessions.forms.judging import FlawForm, JudgeForm, StageForm
from inventory.sessions.models import Flaw, PourJudgement, Session, Stage
from inventory.sessions.tables import FlawTable
from studio.accounts.roles import EVERYONE, WORKERS, role_required
from studio.pages.reference import DeleteView, EditView
from studio.pages.saving import form_status, saved, submission_from
from studio.pages.tables import list_page
from studio.preferences.context import current_studio
from studio.translation import _


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def judge(request: HttpRequest, pk: int) -> HttpResponse:
    session = get_object_or_404(Session.objects.select_related("posting__reversed_by"), pk=pk)
    if hasattr(session.posting, "reversed_by"):
        messages.error(request, _("This session was reversed, so its pours are not judged."))
        return redirect("inventory:session", pk=pk)
    shown = request.POST.get("show", "") in Stage.values
    stage = _stage(request, session)
    data = request.POST if request.method == "POST" and not shown else None
    form = StageForm(data, studio=current_studio(request), initial={"stage": stage})
    rows = _rows(request, session, stage, data)
    if shown:
        left = _rows(request, session, request.POST.get("stage", ""), request.POST)
        for row, marked in zip(rows, left, strict=True):
            row.take_over(marked)
    wrong = [row for row in rows if row.is_bound and not row.is_valid()]

    def record() -> list[PourJudgement]:
        facts: list[JudgementFacts] = []
        for row in rows:
            judged = row.facts(form.cleaned_data["stage"])
            if judged is not None:
                facts.append(judged)
        return judge_pours(judgements=facts, submission=submission_from(request))

    if not wrong and saved(form, record) is not None:
        messages.success(request, _("Judgements saved."))
        return redirect("inventory:session", pk=pk)
    context = {
        "form": form,
        "rows": rows,
        "formsets": [(row.pour.label, [row]) for row in rows],
        "has_row_errors": bool(wrong),
        "stage": stage,
        "stages": list(Stage),
        "title": _("Judge {session}", session=session),
        "lead": _("Judge each pour wet, and again when it is dry. Both judgements stay on record."),
        "back_url": reverse("inventory:session", args=[pk]),
        "back_label": session,
        "section": "inventory:sessions",
    }
    return render(request, "sessions/judge.html", context, status=422 if wrong else form_status(form))


def _stage(request: HttpRequest, session: Session) -> str:
    """The stage that was asked for; else wet on the day of the pour and dry from the next on."""
    asked = request.POST.get("show", "") or request.GET.get("stage", "")
    if asked in Stage.values:
        return asked
    return Stage.WET if session.held_on >= timezone.localdate() else Stage.DRY


def _rows(request: HttpRequest, session: Session, stage: str, data: QueryDict | None) -> list[JudgeForm]:
    pours = session.pours.select_related("surface", "technique").prefetch_related("judgements__judged_flaws")
    flaws = list(Flaw.objects.all())
    return [
        JudgeForm(
            data,
            prefix=f"pour-{pour.pk}",
            studio=current_studio(request),
            pour=pour,
            flaws=flaws,
            initial=JudgeForm.values_of(
                next((each for each in reversed(pour.judgements.all()) if each.stage == stage), None)
            ),
        )
        for pour in pours.order_by("number")
    ]


@require_safe
@role_required(*EVERYONE)
def flaws(request: HttpRequest) -> HttpResponse:
    return list_page(request, "flaws/list.html", FlawTable(Flaw.objects.order_by("name", "pk"), request), {})


class FlawEdit(EditView):
    model, form_class = Flaw, FlawForm
    edit_name, list_name = "inventory:flaw", "inventory:flaws"
    list_label, add_title = gettext_lazy("Flaws"), gettext_lazy("Add a flaw")


class FlawDelete(DeleteView):
    model = Flaw
    edit_name, list_name = "inventory:flaw", "inventory:flaws"
    note = gettext_lazy("Only a flaw that no judgement names can be deleted.")
