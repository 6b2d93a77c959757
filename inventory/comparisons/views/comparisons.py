"""Comparison pages: the list, one of them with its results, setting it up, and finishing it."""

from typing import Any

from django.contrib import messages
from django.db.models import Count
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from inventory.comparisons.actions.comparisons import discard, finish, open_arms, start_comparison
from inventory.comparisons.filters import ComparisonFilter
from inventory.comparisons.forms.comparisons import ComparisonForm, ComparisonNameForm, Criteria
from inventory.comparisons.models import Comparison
from inventory.comparisons.queries.blinding import hidden_arms
from inventory.comparisons.queries.photos import photo_rows
from inventory.comparisons.queries.progress import rounds
from inventory.comparisons.queries.results import results_of
from inventory.comparisons.tables import ArmTable, ComparisonTable, state_badge
from inventory.comparisons.views.shown_results import ShownResults
from inventory.sessions.models import Session
from studio.accounts.roles import EVERYONE, OWNER_ONLY, WORKERS, current_user, role_required
from studio.pages.papers import print_warning
from studio.pages.reference import EditView
from studio.pages.saving import acted, form_status, saved, submission_from
from studio.pages.tables import list_page, page_of
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _
from studio.values.numbers import read_small_whole

PER_PAGE = 50
SPARE_CRITERIA = 2
SECTION, DRAFT = "inventory:comparisons", "comparison-new"


@require_safe
@role_required(*EVERYONE)
def comparisons(request: HttpRequest) -> HttpResponse:
    rows = Comparison.objects.annotate(pour_count=Count("pours")).prefetch_related("arms")
    filters = ComparisonFilter(request.GET, rows, request=request)
    page_obj = page_of(request, filters.qs, PER_PAGE)
    context = {
        "page_obj": page_obj,
        "filters": filters,
        "has_any": bool(page_obj) or Comparison.objects.exists(),
        "section": SECTION,
    }
    return list_page(
        request, "comparisons/list.html", ComparisonTable(list(page_obj), request, filters), context
    )


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def new(request: HttpRequest) -> HttpResponse:
    session = Session.objects.filter(pk=read_small_whole(request.GET.get("session", "")) or 0).first()
    pours = list(session.pours.select_related("session__posting__reversed_by")) if session else []
    studio = current_studio(request)
    data = request.POST if request.method == "POST" else None
    hidden = hidden_arms()
    arms = "\n".join(dict.fromkeys(arm for pour in pours if (arm := hidden.arm_of(pour))))
    first = {"arms": arms, "judges": [current_user(request).pk], "name": session.title if session else ""}
    form = ComparisonForm(data, studio=studio, pours=pours, initial=first)
    criteria = Criteria(data, prefix="criteria", spare=SPARE_CRITERIA, form_kwargs={"studio": studio})
    started = saved(
        form,
        lambda: start_comparison(
            facts=form.facts(criteria), submission=submission_from(request, key=form.cleaned_data["key"])
        ),
        criteria=criteria,
    )
    if started is not None:
        messages.success(
            request, _("Comparison started. Choose which pours are in which arm."), extra_tags=DRAFT
        )
        to = reverse("inventory:comparison-pours", args=[started.pk])
        # Whoever sets it up has to see the arms once more.
        return redirect(f"{to}?arms=shown&session={session.pk}" if session else f"{to}?arms=shown")
    context = {
        "form": form,
        "formset": criteria,
        "draft": DRAFT,
        "send": _("Start the comparison"),
        "title": _("New comparison"),
        "lead": _("Pours that differ in one thing on purpose, judged side by side."),
        "back_url": reverse(SECTION),
        "back_label": _("Comparisons"),
        "section": SECTION,
    }
    return render(request, "comparisons/new.html", context, status=form_status(form))


@require_safe
@role_required(*EVERYONE)
def comparison(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(Comparison.objects.prefetch_related("judges", "criteria", "arms"), pk=pk)
    user, formatter = current_user(request), Formatter.of(current_studio(request))
    progress = rounds(row)
    context: dict[str, Any] = {
        "comparison": row,
        "badge": state_badge(row),
        "rounds": progress,
        "may_write": user.may_write and not row.is_finished,
        "photo_rows": photo_rows(row),
        "title": row,
        "lead": row.get_varied_display(),
        "back_url": reverse(SECTION),
        "back_label": _("Comparisons"),
        "section": SECTION,
        "pour_count": row.pours.count(),
        "is_complete": all(each.is_done for each in progress),
    }
    if row.shows_arms:
        results = results_of(row)
        context["shown"] = ShownResults(results, formatter)
        context["warning"] = print_warning([row.name, *context["shown"].arms, *map(str, row.criteria.all())])
        context["arms"] = ArmTable(results.arms, request, without=() if user.may_write else ("repeat",))
    return render(request, "comparisons/detail.html", context)


@require_POST
@role_required(*WORKERS)
def finish_it(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(Comparison, pk=pk)
    despite = "despite_missing" in request.POST
    submission = submission_from(request)
    acted(
        request,
        lambda: finish(comparison=row, submission=submission, despite_missing=despite),
        _("“{name}” is finished.", name=row),
    )
    return redirect("inventory:comparison", pk=pk)


@require_POST
@role_required(*OWNER_ONLY)
def open_it(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(Comparison, pk=pk)
    submission = submission_from(request)
    acted(
        request,
        lambda: open_arms(comparison=row, submission=submission),
        _("The arms of “{name}” are shown from now on.", name=row),
    )
    return redirect("inventory:comparison", pk=pk)


@require_POST
@role_required(*WORKERS)
def discard_it(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(Comparison, pk=pk)
    submission = submission_from(request)
    done = _("“{name}” has been deleted.", name=row)
    if acted(request, lambda: discard(comparison=row, submission=submission), done):
        return redirect("inventory:comparisons")
    return redirect("inventory:comparison", pk=pk)


class ComparisonEdit(EditView):
    model, form_class = Comparison, ComparisonNameForm
    roles = WORKERS
    edit_name, list_name, page_name = SECTION.removesuffix("s"), SECTION, "inventory:comparison"
    can_delete = False
    list_label, add_title = gettext_lazy("Comparisons"), gettext_lazy("New comparison")
