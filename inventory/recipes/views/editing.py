"""Writing a recipe, and writing a new version of one."""

from typing import Any, cast

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from inventory.materials.choices import by_kind
from inventory.materials.forms.written_lines import must_read
from inventory.materials.models import Material
from inventory.materials.new_in_place import NewMaterials
from inventory.recipes.actions.recipes import write_recipe, write_version
from inventory.recipes.forms.recipes import (
    MOST_PARTS,
    SPARE_PARTS,
    PartForm,
    PartRows,
    PartsForm,
    RecipeForm,
    VersionForm,
    part_materials,
    typed_parts,
)
from inventory.recipes.forms.written_parts import WrittenPartsForm
from inventory.recipes.models import Basis, Recipe, RecipeVersion
from inventory.recipes.queries import latest_version
from studio.accounts.roles import WORKERS, current_user, role_required
from studio.auditing.queries import last_change_number
from studio.pages.formsets import Rows, as_sent, data_of_rows
from studio.pages.saving import form_status, saved, submission_from
from studio.preferences.context import current_studio
from studio.translation import _
from studio.values.units import Measure

PREFIX = "parts"


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def new(request: HttpRequest) -> HttpResponse:
    materials = part_materials()
    made = set(Recipe.objects.values_list("makes_id", flat=True))
    form = RecipeForm(request.POST or None, studio=current_studio(request), materials=materials, made=made)
    if must_read(request.POST):
        return _with_written(request, form, materials)
    rows = _rows(request, materials, None)

    def write() -> Recipe:
        named = {name: form.cleaned_data[name] for name in ("name", "basis", "notes")}
        submission = submission_from(request)
        return _new_in(rows).saving_first(
            lambda: write_recipe(
                makes=form.what_it_makes, parts=typed_parts(rows), submission=submission, **named
            ),
            submission,
        )

    recipe = saved(form, write) if rows.is_valid() else None
    if recipe is not None:
        messages.success(request, _("{recipe} saved.", recipe=recipe.name))
        return redirect("inventory:recipe", pk=recipe.pk)
    return _page(request, form, rows, **_new_context(request))


def _with_written(request: HttpRequest, form: RecipeForm, materials: dict[int, Material]) -> HttpResponse:
    """The page as it was sent, with rows for the parts that were written as text. Nothing is saved."""
    studio, kwargs = current_studio(request), _row_kwargs(request, materials)
    written = WrittenPartsForm(request.POST, studio=studio)
    typed = written.rows(request, kwargs["new"], kwargs["new_measure"])
    spare: list[dict[str, Any]] = [{}] if len(typed) < MOST_PARTS else []
    data = as_sent(request.POST) | data_of_rows(PREFIX, [*typed, *spare], PartForm)
    rows = PartRows(data, prefix=PREFIX, form_kwargs=kwargs)
    for each in (form, *rows.forms):
        each.hides_errors = True
    context = _new_context(request) | ({"written": written} if written.errors else {})
    return _page(request, form, rows, status=422 if written.errors else 200, **context)


def _new_context(request: HttpRequest) -> dict[str, Any]:
    return {
        "title": _("Add a recipe"),
        "back_url": reverse("inventory:recipes"),
        "back_label": _("Recipes"),
        "written": WrittenPartsForm(studio=current_studio(request)),
    }


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def version(request: HttpRequest, pk: int) -> HttpResponse:
    seen = last_change_number(Recipe, pk)
    recipe = get_object_or_404(Recipe.objects.select_related("makes"), pk=pk)
    latest = latest_version(recipe)
    first = {"seen": seen, "basis": latest.basis} if latest else {"seen": seen}
    form = VersionForm(request.POST or None, studio=current_studio(request), initial=first)
    rows = _rows(request, _materials_for(latest), latest)

    def write() -> RecipeVersion:
        submission = submission_from(request)
        return _new_in(rows).saving_first(
            lambda: write_version(
                recipe=recipe, parts=typed_parts(rows), submission=submission, **form.cleaned_data
            ),
            submission,
        )

    made = saved(form, write) if rows.is_valid() else None
    if made is not None:
        messages.success(request, _version_message(recipe.name, made, latest))
        return redirect("inventory:recipe", pk=pk)
    latest = latest_version(recipe)
    context: dict[str, Any] = {
        "title": _("New version of {recipe}", recipe=recipe.name),
        "back_url": reverse("inventory:recipe", args=[pk]),
        "back_label": recipe.name,
        "latest": latest,
        "used": latest.mixes.count() if latest else 0,
    }
    return _page(request, form, rows, **context)


def _new_in(rows: Rows) -> NewMaterials:
    """The materials that the rows add."""
    return cast("NewMaterials", rows.form_kwargs["new"])


def _page(
    request: HttpRequest, form: PartsForm, rows: Rows, *, status: int | None = None, **context: Any
) -> HttpResponse:
    context |= {"form": form, "formset": rows, "section": "inventory:recipes"}
    return render(request, "recipes/edit.html", context, status=status or form_status(form))


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
    """The parts as they were sent, or as the latest version has them and a few blank rows."""
    common = _row_kwargs(request, materials)
    if request.POST:
        return PartRows(request.POST, prefix=PREFIX, form_kwargs=common)
    parts = latest.parts.all() if latest is not None else []
    first = [{"material": part.material_id, "parts": part.parts} for part in parts]
    spare = min(SPARE_PARTS if first else SPARE_PARTS + 1, MOST_PARTS - len(first))
    return PartRows(prefix=PREFIX, initial=first, spare=spare, form_kwargs=common)


def _row_kwargs(request: HttpRequest, materials: dict[int, Material]) -> dict[str, Any]:
    """What every row is made with; what is new is measured as the parts are."""
    return {
        "studio": current_studio(request),
        "materials": materials,
        "choices": by_kind(materials.values()),
        "new": NewMaterials(materials, current_user(request).is_owner),
        "new_measure": Measure.MASS if request.POST.get("basis") == Basis.MASS else Measure.VOLUME,
    }
