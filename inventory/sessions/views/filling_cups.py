"""One cup while it is filled: what goes in, what is shown, and what to do when too much went in. Writes nothing."""

from datetime import date
from typing import Any, NamedTuple

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory.plans.models import Plan
from inventory.plans.queries import Promises, figures_for, set_of
from inventory.recipes.forms.choices import FormChoices
from inventory.recipes.models import Recipe
from inventory.recipes.queries import versions_with_parts
from inventory.sessions.forms.filling_cups import FillingForm
from inventory.sessions.forms.stock_check import StockCheckForm
from inventory.sessions.queries.filling_cups import CupFilled, fill_cup
from inventory.sessions.queries.planning import SetPlan
from inventory.sessions.views.answers import samples_for
from inventory.stock.availability import StockFigures
from studio.accounts.roles import EVERYONE, current_user, role_required
from studio.errors import MeniscusError
from studio.preferences.context import current_studio
from studio.translation import _
from studio.values.numbers import read_small_whole
from studio.values.units import Measure


class ItsSet(NamedTuple):
    """The set that a cup belongs to, what is there for it, and the way back to it."""

    plan: SetPlan | None
    figures: dict[int, StockFigures] | None
    day: date
    back_url: str
    back_label: str


@require_safe
@role_required(*EVERYONE)
def filling(request: HttpRequest, pk: int) -> HttpResponse:
    recipe = get_object_or_404(Recipe, pk=pk)
    number = read_small_whole(request.GET.get("version", ""))
    versions = versions_with_parts().filter(recipe=recipe)
    version = (versions.filter(number=number) if number else versions).first()
    studio, its_set = current_studio(request), _set_of(request, recipe)
    context: dict[str, Any] = {
        "title": _("Fill a cup: {name}", name=recipe.name),
        "back_url": its_set.back_url,
        "back_label": its_set.back_label,
        "recipe": recipe,
        "version": version,
        "for_plan": its_set.plan is not None,
        "may_write": current_user(request).may_write,
        "section": "inventory:recipes",
    }
    if version is None or not version.parts.all():
        return render(request, "cups/filling.html", context)
    form = FillingForm(request.GET if "wanted" in request.GET else None, version=version, studio=studio)
    filled: CupFilled | None = None
    if form.is_bound and form.is_valid() and form.facts is not None:
        try:
            filled = fill_cup(
                form.facts, on=its_set.day, studio=studio, plan=its_set.plan, figures=its_set.figures
            )
        except MeniscusError as problem:
            form.refuse(problem)
    if form.is_bound:
        parts = [part.material for part in version.parts.all()]
        context["samples"] = samples_for(request, [item for item in parts if item.density is None])
    context |= {
        "form": form,
        "hazardous": [part.material for part in version.parts.all()],
        "filled": filled,
        "kept": [(name, value) for name, value in request.GET.items() if name not in form.fields],
        "rows": zip(filled.cup.parts, filled.readings, form.shows_fields, strict=True) if filled else [],
        "is_weighed": form.instrument.measure == Measure.MASS,
    }
    return render(request, "cups/filling.html", context, status=422 if form.errors else 200)


def _set_of(request: HttpRequest, recipe: Recipe) -> ItsSet:
    """A kept plan by its number, a question by its own address, or none."""
    today = timezone.localdate()
    if "plan" in request.GET:
        kept = get_object_or_404(Plan.objects.with_lines(), pk=read_small_whole(request.GET["plan"]))
        plan, day = set_of(kept, current_studio(request)), max(kept.planned_on, today)
        figures = Promises(today).on(day, ahead_of=kept, include_expired=kept.include_expired)
        return ItsSet(plan, figures, day, reverse("inventory:plan", args=[kept.pk]), kept.name)
    if "surface" in request.GET:
        asked = StockCheckForm.from_query(request.GET, form_choices=FormChoices(current_studio(request)))
        if asked.is_valid():
            plan, day = asked.plan(), max(asked.cleaned_data["planned_on"] or today, today)
            back = f"{reverse('inventory:stock-check')}?{request.GET.urlencode()}"
            return ItsSet(plan, figures_for(plan, on=day, today=today), day, back, _("Do I have enough?"))
    return ItsSet(None, None, today, reverse("inventory:recipe", args=[recipe.pk]), recipe.name)
