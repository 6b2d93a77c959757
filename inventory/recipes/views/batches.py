"""A mix outside a session, such as home-made medium ahead of time."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from inventory.recipes.actions.mixes import MixFacts, make_mix
from inventory.recipes.forms.batches import BatchSheet
from inventory.recipes.forms.choices import FormChoices
from inventory.recipes.models import Mix
from inventory.reordering.refresh import stock_changed
from studio.accounts.roles import WORKERS, current_user, role_required
from studio.errors import MeniscusError
from studio.pages.query_values import whole_number
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _

DRAFT = "mix-new"


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def new(request: HttpRequest) -> HttpResponse:
    studio = current_studio(request)
    form_choices = FormChoices.for_mixes(Formatter.of(studio))
    if request.method != "POST":
        row = {
            "contents": f"r{whole_number(request.GET.get('recipe', '')) or ''}",
            "wanted": request.GET.get("wanted", "")[:60],
        }
        return _page(
            request,
            BatchSheet.fresh(studio=studio, form_choices=form_choices, on=timezone.localdate(), row=row),
        )
    if request.POST.get("do"):
        return _page(
            request, BatchSheet.worked_out(studio=studio, form_choices=form_choices, data=request.POST)
        )
    sheet = BatchSheet.sent(studio=studio, form_choices=form_choices, data=request.POST)
    mix = _post(request, sheet, sheet.cup.facts) if sheet.is_valid() and sheet.cup.facts else None
    return redirect("inventory:lot", pk=mix.lot_id) if mix else _page(request, sheet, status=422)


def _post(request: HttpRequest, sheet: BatchSheet, facts: MixFacts) -> Mix | None:
    """Post the batch; a refusal goes onto the page."""
    said = sheet.form.cleaned_data
    try:
        mix = make_mix(
            facts=facts,
            on=said["mixed_on"],
            by=current_user(request),
            at=timezone.now(),
            key=said["key"],
            confirm_gain=said["confirm_gain"],
        )
    except MeniscusError as problem:
        sheet.refuse(problem)
        return None
    stock_changed(request)
    messages.success(
        request,
        _("Mix posted as lot {lot}. Label the jar with that, its name and today.", lot=mix.lot.label),
        extra_tags=DRAFT,
    )
    return mix


def _page(request: HttpRequest, sheet: BatchSheet, *, status: int = 200) -> HttpResponse:
    context = {
        "sheet": sheet,
        "form": sheet.form,
        "cup": sheet.cup,
        "draft": DRAFT,
        "has_recipes": bool(sheet.cup.bench.recipes),
        "is_filled": request.method == "POST" or "recipe" in request.GET,
        "section": "inventory:recipes",
    }
    return render(request, "sessions/mix_new.html", context, status=status)
