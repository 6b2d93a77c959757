"""A mix outside a session, such as home-made medium ahead of time."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from inventory.recipes.actions.batches import make_mix
from inventory.recipes.actions.ratios import mix_by_ratio
from inventory.recipes.forms.batches import BatchCup, BatchForm
from inventory.recipes.forms.by_ratio import BUTTON, BatchByRatioForm, applied
from inventory.recipes.forms.choices import FormChoices
from inventory.recipes.forms.cup_parts import added_names
from inventory.recipes.forms.cup_totals import followed_total
from inventory.recipes.forms.samples import DO, save_samples
from inventory.recipes.models import Mix, Recipe
from studio.accounts.roles import WORKERS, role_required
from studio.errors import MeniscusError
from studio.pages.forms import new_key
from studio.pages.formsets import as_sent
from studio.pages.saving import submission_from
from studio.preferences.context import current_studio
from studio.translation import _
from studio.values.numbers import read_small_whole

CUP = "cup"
DRAFT_KEY = "mix-new"


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def new(request: HttpRequest) -> HttpResponse:
    """The day and one cup; a "do" button comes back with the parts worked out and posts nothing."""
    studio = current_studio(request)
    form_choices = FormChoices(studio)
    if request.POST.get("do") == DO:
        save_samples(request)
    data = as_sent(request.POST) if request.method == "POST" else _first_values(request)
    by_ratio = BatchByRatioForm(request.POST or None, form_choices=form_choices)
    # Paints that are ticked are not passed over.
    uses_ratio = by_ratio.says_something or request.POST.get("do") == BUTTON
    is_sent = request.method == "POST" and not request.POST.get("do") and not uses_ratio
    recipe = _mixed_by_ratio(request, by_ratio) if uses_ratio else None
    if recipe is not None:
        data[f"{CUP}-contents"] = f"r{recipe.pk}"
        form_choices = FormChoices(studio)  # the recipe may be new
    if recipe is not None or not uses_ratio:
        by_ratio = BatchByRatioForm(form_choices=form_choices)
    form_choices.find_lots([data.get(f"{CUP}-contents", "")], added_names(data))
    if not is_sent:
        followed = followed_total(lambda name: data.get(f"{CUP}-{name}", ""), form_choices)
        data |= {f"{CUP}-{name}": text for name, text in followed.items()}
    form = BatchForm(data if is_sent else {"key": new_key(), **data}, studio=studio)
    cup = BatchCup(form.data, prefix=CUP, studio=studio, form_choices=form_choices, while_typing=not is_sent)
    form.hides_errors = cup.hides_errors = cup.just_planned = not is_sent
    mix = _posted(request, form, cup) if is_sent else None
    if mix is not None:
        return redirect("inventory:lot", pk=mix.lot_id)
    context = {
        "title": _("Mix a batch"),
        "lead": _(
            "A batch mixed ahead of a session, such as home-made medium. It becomes a lot with the cost of its "
            "ingredients."
        ),
        "back_url": reverse("inventory:recipes"),
        "back_label": _("Recipes"),
        "form": form,
        "cup": cup,
        "draft_key": DRAFT_KEY,
        "by_ratio": by_ratio,
        "can_mix": bool(form_choices.recipes) or by_ratio.can_mix,
        "is_filled": request.method == "POST" or "recipe" in request.GET,
        "section": "inventory:recipes",
    }
    return render(request, "sessions/mix_new.html", context, status=422 if is_sent else 200)


def _mixed_by_ratio(request: HttpRequest, form: BatchByRatioForm) -> Recipe | None:
    """The recipe of the ticked paint in the ticked medium; None where something must be put right upon the form."""
    use = applied(form)
    if use is None:
        return None
    try:
        [mixed] = mix_by_ratio(use=use, submission=submission_from(request))
    except MeniscusError as problem:
        form.refuse(problem)
        return None
    return mixed.recipe


def _first_values(request: HttpRequest) -> dict[str, str]:
    """Today, with the recipe chosen where one was asked for."""
    return {
        "mixed_on": timezone.localdate().isoformat(),
        f"{CUP}-contents": f"r{read_small_whole(request.GET.get('recipe', '')) or ''}",
        f"{CUP}-wanted": request.GET.get("wanted", "")[:60],
    }


def _posted(request: HttpRequest, form: BatchForm, cup: BatchCup) -> Mix | None:
    """Post the batch; a refusal goes onto the page."""
    if not all([form.is_valid(), cup.is_valid()]) or cup.facts is None:
        return None
    cleaned = form.cleaned_data
    try:
        mix = make_mix(
            facts=cup.facts,
            confirm_gain=cleaned["confirm_gain"],
            submission=submission_from(
                request, on=cleaned["mixed_on"], key=cleaned["key"], confirmed=form.confirmations
            ),
        )
    except MeniscusError as problem:
        form.refuse(problem)
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
