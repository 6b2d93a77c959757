"""Ratios: the list, and writing one."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from inventory.materials.choices import by_kind
from inventory.recipes.actions.ratios import keep_among_written, save_ratio, set_favourite
from inventory.recipes.filters import RatioFilter
from inventory.recipes.forms.ratios import FIRST_ROLES, SPARE_PARTS, RatioForm, RatioParts, rows_of_ratio
from inventory.recipes.forms.recipes import part_materials
from inventory.recipes.models import Ratio, Recipe
from inventory.recipes.tables import RatioRow, RatioTable
from studio.accounts.roles import EVERYONE, WORKERS, current_user, role_required
from studio.auditing.queries import last_change_number
from studio.pages.formsets import Rows
from studio.pages.saving import form_status, saved, submission_from
from studio.pages.tables import list_page, page_of
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _

PER_PAGE = 50
SECTION = "inventory:ratios"


@require_safe
@role_required(*EVERYONE)
def ratios(request: HttpRequest) -> HttpResponse:
    kept = Ratio.objects.prefetch_related("parts__material").order_by("name", "pk")
    filters = RatioFilter(request.GET, kept, request=request)
    page_obj = page_of(request, filters.qs, PER_PAGE)
    comma = Formatter.of(current_studio(request)).decimal_comma
    context = {
        "page_obj": page_obj,
        "filters": filters,
        "has_any": bool(page_obj) or Ratio.objects.exists(),
        "may_write": current_user(request).may_write,
        "section": SECTION,
    }
    table = RatioTable([RatioRow(ratio, comma) for ratio in page_obj], request, filters)
    return list_page(request, "ratios/list.html", table, context)


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def new(request: HttpRequest) -> HttpResponse:
    return _edit(request, None, title=_("Add a ratio"))


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def edit(request: HttpRequest, pk: int) -> HttpResponse:
    seen = last_change_number(Ratio, pk)
    ratio = get_object_or_404(Ratio.objects.prefetch_related("parts__material"), pk=pk)
    return _edit(request, ratio, seen=seen, title=_("Edit {name}", name=ratio))


def _edit(request: HttpRequest, ratio: Ratio | None, *, title: str, seen: int = 0) -> HttpResponse:
    first: dict[str, Any] = {"seen": seen}
    rows: list[dict[str, Any]] = [{"role": role} for role in FIRST_ROLES]
    if ratio is not None:
        names = ("name", "basis", "notes", "is_archived", "is_favourite")
        first |= {name: getattr(ratio, name) for name in names}
        rows = rows_of_ratio(ratio)
    form = RatioForm(request.POST or None, studio=current_studio(request), initial=first)
    parts = _rows(request, rows, ratio)
    kept = saved(
        form,
        lambda: save_ratio(
            facts=form.facts(parts),
            submission=submission_from(request),
            ratio=ratio,
            seen=form.cleaned_data["seen"],
        ),
        parts=parts,
    )
    if kept is not None:
        messages.success(request, _("“{name}” has been saved.", name=kept))
        return redirect(SECTION)
    context = {
        "title": title,
        "lead": _("Parts by role. Choose the paint and the medium when you plan or log."),
        "back_url": reverse(SECTION),
        "back_label": _("Ratios"),
        "form": form,
        "formset": parts,
        "is_new": ratio is None,
        "section": SECTION,
    }
    return render(request, "ratios/edit.html", context, status=form_status(form))


def _rows(request: HttpRequest, first: list[dict[str, Any]], ratio: Ratio | None) -> Rows:
    """The parts as they were sent, or as they are kept with a row to spare."""
    materials = part_materials()
    for part in ratio.parts.all() if ratio is not None else []:
        if part.material is not None:
            materials[part.material.pk] = part.material
    choices = by_kind(materials.values())
    common = {"studio": current_studio(request), "materials": materials, "choices": choices}
    if request.POST:
        return RatioParts(request.POST, prefix="parts", form_kwargs=common)
    return RatioParts(prefix="parts", initial=first, spare=SPARE_PARTS, form_kwargs=common)


@require_POST
@role_required(*WORKERS)
def favourite_recipe(request: HttpRequest, pk: int) -> HttpResponse:
    """A recipe is offered first from now on, or no longer."""
    is_favourite = request.POST.get("is_favourite") == "yes"
    recipe = get_object_or_404(Recipe, pk=pk)
    set_favourite(recipe, is_favourite, submission=submission_from(request))
    words = _("“{name}” is offered first.") if is_favourite else _("“{name}” is no longer a favourite.")
    messages.success(request, words.format(name=recipe))
    return redirect("inventory:recipe", pk=pk)


@require_POST
@role_required(*WORKERS)
def keep_recipe(request: HttpRequest, pk: int) -> HttpResponse:
    """What came of a ratio is listed among the written recipes from now on."""
    recipe = keep_among_written(get_object_or_404(Recipe, pk=pk), submission=submission_from(request))
    messages.success(request, _("“{name}” now stands among your recipes.", name=recipe))
    return redirect("inventory:recipe", pk=pk)
