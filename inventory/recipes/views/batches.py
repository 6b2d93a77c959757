"""A mix outside a session, such as home-made medium ahead of time."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from inventory.recipes.actions.mixes import MixFacts, make_mix
from inventory.recipes.forms.batches import BatchDraft
from inventory.recipes.forms.choices import FormChoices
from inventory.recipes.models import Mix
from studio.accounts.roles import WORKERS, role_required
from studio.errors import MeniscusError
from studio.pages.query_values import whole_number
from studio.pages.submissions import submission_from
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _

DRAFT_KEY = "mix-new"


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def new(request: HttpRequest) -> HttpResponse:
    studio = current_studio(request)
    form_choices = FormChoices.for_mixes(Formatter.of(studio))
    if request.method != "POST":
        cup = {
            "contents": f"r{whole_number(request.GET.get('recipe', '')) or ''}",
            "wanted": request.GET.get("wanted", "")[:60],
        }
        today = timezone.localdate()
        draft = BatchDraft.filled(studio=studio, form_choices=form_choices, on=today, cup=cup)
        return _page(request, draft)
    if request.POST.get("do"):
        return _page(request, BatchDraft.typed(request.POST, studio=studio, form_choices=form_choices))
    draft = BatchDraft.sent(request.POST, studio=studio, form_choices=form_choices)
    facts = draft.facts
    mix = _post(request, draft, facts) if facts is not None else None
    return redirect("inventory:lot", pk=mix.lot_id) if mix else _page(request, draft, status=422)


def _post(request: HttpRequest, draft: BatchDraft, facts: MixFacts) -> Mix | None:
    """Post the batch; a refusal goes onto the page."""
    cleaned = draft.form.cleaned_data
    try:
        mix = make_mix(
            facts=facts,
            confirm_gain=cleaned["confirm_gain"],
            submission=submission_from(request, on=cleaned["mixed_on"], key=cleaned["key"]),
        )
    except MeniscusError as problem:
        draft.refuse(problem)
        return None
    messages.success(
        request,
        _(
            "Mix saved as lot {lot}. Label the jar with the lot number, its name and today's date.",
            lot=mix.lot.label,
        ),
        extra_tags=DRAFT_KEY,
    )
    return mix


def _page(request: HttpRequest, draft: BatchDraft, *, status: int = 200) -> HttpResponse:
    context = {
        "draft": draft,
        "form": draft.form,
        "cup": draft.cup,
        "draft_key": DRAFT_KEY,
        "has_recipes": bool(draft.cup.form_choices.recipes),
        "is_filled": request.method == "POST" or "recipe" in request.GET,
        "section": "inventory:recipes",
    }
    return render(request, "sessions/mix_new.html", context, status=status)
