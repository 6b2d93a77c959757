"""Writing a recipe, and writing a new version of one."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from inventory.materials.choices import by_kind
from inventory.materials.models import Material
from inventory.recipes.actions.recipes import write_recipe, write_version
from inventory.recipes.forms.recipes import (
    MOST_PARTS,
    SPARE_PARTS,
    PartRows,
    RecipeForm,
    VersionForm,
    part_materials,
    parts_of,
    typed_parts,
)
from inventory.recipes.models import Recipe, RecipeVersion
from inventory.recipes.queries import latest_version
from studio.accounts.roles import WORKERS, role_required
from studio.auditing.queries import last_change_number
from studio.errors import MeniscusError
from studio.pages.formsets import Rows
from studio.pages.submissions import submission_from
from studio.preferences.context import current_studio
from studio.translation import _


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def new(request: HttpRequest) -> HttpResponse:
    materials = part_materials()
    form = RecipeForm(
        request.POST or None,
        studio=current_studio(request),
        materials=materials,
        made=set(Recipe.objects.values_list("makes_id", flat=True)),
    )
    rows = _rows(request, materials, None)
    if form.is_bound and all([form.is_valid(), rows.is_valid()]):
        made = _written(request, form, rows)
        if made is not None:
            messages.success(request, _("{recipe} saved.", recipe=made.name))
            return redirect("inventory:recipe", pk=made.pk)
    context = {"form": form, "formset": rows, "section": "inventory:recipes"}
    return render(request, "recipes/new.html", context, status=422 if form.is_bound else 200)


def _written(request: HttpRequest, form: RecipeForm, rows: Rows) -> Recipe | None:
    """Write the recipe; a refusal goes onto the page."""
    cleaned = form.cleaned_data
    try:
        return write_recipe(
            name=cleaned["name"],
            makes=form.what_it_makes,
            basis=cleaned["basis"],
            parts=typed_parts(rows),
            notes=cleaned["notes"],
            submission=submission_from(request),
        )
    except MeniscusError as problem:
        form.refuse(problem)
        return None


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def version(request: HttpRequest, pk: int) -> HttpResponse:
    first: dict[str, Any] = {"seen": last_change_number(Recipe, pk)}
    recipe = get_object_or_404(Recipe.objects.select_related("makes"), pk=pk)
    latest = latest_version(recipe)
    materials = _materials_for(latest)
    if latest is not None:
        first["basis"] = latest.basis
    form = VersionForm(request.POST or None, studio=current_studio(request), initial=first)
    rows = _rows(request, materials, latest)
    if form.is_bound and all([form.is_valid(), rows.is_valid()]):
        try:
            made = write_version(
                recipe=recipe,
                parts=typed_parts(rows),
                submission=submission_from(request),
                **form.cleaned_data,
            )
        except MeniscusError as problem:
            form.refuse(problem)
            latest = latest_version(recipe)
        else:
            messages.success(request, _version_message(recipe.name, made, latest))
            return redirect("inventory:recipe", pk=pk)
    context = {
        "recipe": recipe,
        "title": _("New version of {recipe}", recipe=recipe.name),
        "latest": latest,
        "used": latest.mixes.count() if latest else 0,
        "form": form,
        "formset": rows,
        "section": "inventory:recipes",
    }
    return render(request, "recipes/version.html", context, status=422 if form.is_bound else 200)


def _materials_for(latest: RecipeVersion | None) -> dict[int, Material]:
    """What may be chosen: all that can be mixed, and what the latest version has of what no longer is on offer."""
    parts = latest.parts.all() if latest is not None else []
    return part_materials() | {part.material_id: part.material for part in parts}


def _version_message(recipe: str, made: RecipeVersion, latest: RecipeVersion | None) -> str:
    if latest is not None and made.pk == latest.pk:
        return _(
            "Version {n} of {recipe} is unchanged: its parts are the same.", n=made.number, recipe=recipe
        )
    return _("Version {n} of {recipe} saved.", n=made.number, recipe=recipe)


def _rows(request: HttpRequest, materials: dict[int, Material], latest: RecipeVersion | None) -> Rows:
    if not request.POST:
        return _open_rows(request, materials, latest)
    return PartRows(request.POST, prefix="parts", form_kwargs=_kwargs(request, materials))


def _open_rows(request: HttpRequest, materials: dict[int, Material], latest: RecipeVersion | None) -> Rows:
    first = parts_of(latest)
    spare = SPARE_PARTS if first else 4
    return PartRows(
        prefix="parts",
        initial=first,
        spare=min(spare, MOST_PARTS - len(first)),
        form_kwargs=_kwargs(request, materials),
    )


def _kwargs(request: HttpRequest, materials: dict[int, Material]) -> dict[str, Any]:
    return {"studio": current_studio(request), "materials": materials, "choices": by_kind(materials.values())}
