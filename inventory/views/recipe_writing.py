"""Writing a recipe, and writing a new version of one."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import URLPattern, path
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from inventory.forms.choices import by_kind
from inventory.forms.formsets import Rows
from inventory.forms.recipes import (
    MOST_PARTS,
    SPARE_PARTS,
    PartRows,
    RecipeForm,
    VersionForm,
    part_materials,
    parts_of,
    parts_said,
)
from inventory.models import Material, Recipe, RecipeVersion
from inventory.recipes import write_recipe, write_version
from studio.context import current
from studio.errors import MeniscusError
from studio.roles import WORKERS, page


@require_http_methods(["GET", "POST"])
@page(*WORKERS)
def new(request: HttpRequest) -> HttpResponse:
    materials = part_materials()
    form = RecipeForm(
        request.POST or None,
        studio=current(request),
        materials=materials,
        made=set(Recipe.objects.values_list("makes_id", flat=True)),
    )
    rows = _rows(request, materials, None)
    if form.is_bound and all([form.is_valid(), rows.is_valid()]):
        made = _written(form, rows)
        if made is not None:
            messages.success(request, f"{made.name} is written.")
            return redirect("inventory:recipe", pk=made.pk)
    context = {"form": form, "formset": rows, "section": "inventory:recipes"}
    return render(request, "inventory/recipe/new.html", context, status=422 if form.is_bound else 200)


def _written(form: RecipeForm, rows: Rows) -> Recipe | None:
    """Write the recipe; a refusal goes onto the page."""
    said = form.cleaned_data
    try:
        return write_recipe(
            name=said["name"],
            makes=form.what_it_makes,
            basis=said["basis"],
            parts=parts_said(rows),
            notes=said["notes"],
            on=timezone.localdate(),
        )
    except MeniscusError as problem:
        form.refuse(problem)
        return None


@require_http_methods(["GET", "POST"])
@page(*WORKERS)
def version(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Recipe.objects.select_related("makes"), pk=pk)
    latest = found.versions.order_by("-number").prefetch_related("parts__material").first()
    materials = part_materials()
    if latest is not None:
        materials |= {part.material_id: part.material for part in latest.parts.all()}
    form = VersionForm(
        request.POST or None, studio=current(request), initial={"basis": latest.basis} if latest else {}
    )
    rows = _rows(request, materials, latest)
    if form.is_bound and all([form.is_valid(), rows.is_valid()]):
        try:
            made = write_version(
                recipe=found,
                parts=parts_said(rows),
                basis=form.cleaned_data["basis"],
                notes=form.cleaned_data["notes"],
                on=timezone.localdate(),
            )
        except MeniscusError as problem:
            form.refuse(problem)
        else:
            is_same = latest is not None and made.pk == latest.pk
            said = "stays as it is: its parts are the same" if is_same else "is written"
            messages.success(request, f"Version {made.number} of {found.name} {said}.")
            return redirect("inventory:recipe", pk=pk)
    context = {
        "recipe": found,
        "title": f"New version of {found.name}",
        "latest": latest,
        "used": latest.mixes.count() if latest else 0,
        "form": form,
        "formset": rows,
        "section": "inventory:recipes",
    }
    return render(request, "inventory/recipe/version.html", context, status=422 if form.is_bound else 200)


def _rows(request: HttpRequest, materials: dict[int, Material], latest: RecipeVersion | None) -> Rows:
    first = [] if request.method == "POST" else parts_of(latest)
    spare = SPARE_PARTS if first else 4
    return PartRows(
        request.POST or None,
        prefix="parts",
        initial=first,
        spare=min(spare, MOST_PARTS - len(first)),
        form_kwargs={
            "studio": current(request),
            "materials": materials,
            "choices": by_kind(materials.values()),
        },
    )


urlpatterns: list[URLPattern] = [
    path("recipes/new/", new, name="recipe-new"),
    path("recipes/<int:pk>/version/", version, name="recipe-version"),
]
