"""A recipe like one that is there, and the colour of a recipe's swatch."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from inventory.materials.models import Material
from inventory.recipes.actions.ratios import names_taken
from inventory.recipes.actions.variants import (
    duplicate_recipe,
    free_name,
    paints_of,
    set_colour,
    write_for_paints,
)
from inventory.recipes.forms.variants import (
    ColourForm,
    DuplicateForm,
    ForPaintsForm,
    chosen_photo,
    suggested_name,
)
from inventory.recipes.models import Recipe
from inventory.recipes.queries import guessed_colour, latest_version
from inventory.sessions.models import SessionPhoto
from studio.accounts.roles import WORKERS, role_required
from studio.auditing.queries import last_change_number
from studio.pages.saving import form_page, saved, submission_from
from studio.preferences.context import current_studio
from studio.translation import _, ngettext

MOST_PHOTOS = 6


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def duplicate(request: HttpRequest, pk: int) -> HttpResponse:
    """A copy is named, and then its parts are opened to be changed: no mix has used them yet."""
    recipe = get_object_or_404(Recipe.objects.select_related("makes"), pk=pk)
    first = {"name": free_name(suggested_name(recipe.name), names_taken())}
    form = DuplicateForm(request.POST or None, studio=current_studio(request), initial=first)
    made = saved(
        form,
        lambda: duplicate_recipe(
            recipe=recipe, name=form.cleaned_data["name"], submission=submission_from(request)
        ),
    )
    if made is not None:
        messages.success(
            request, _("{recipe} saved. Change its parts here if you want to.", recipe=made.name)
        )
        return redirect("inventory:recipe-version", pk=made.pk)
    return form_page(
        request,
        form,
        title=_("Duplicate {recipe}", recipe=recipe.name),
        lead=_("The copy starts with the same parts. You can change them next."),
        send=_("Duplicate"),
        **_back(recipe),
    )


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def for_paints(request: HttpRequest, pk: int) -> HttpResponse:
    recipe = get_object_or_404(Recipe.objects.select_related("makes"), pk=pk)
    version = latest_version(recipe)
    if version is None:
        messages.warning(request, _("This recipe has no parts yet. Add them first."))
        return redirect("inventory:recipe-version", pk=pk)
    form = ForPaintsForm(request.POST or None, studio=current_studio(request), version=version)
    written = saved(form, lambda: write_for_paints(wanted=form.wanted(), submission=submission_from(request)))
    if written is not None:
        _say_what_was_written(request, written)
        return redirect("inventory:recipes")
    return form_page(
        request,
        form,
        "recipes/for_paints.html",
        title=_("{recipe} for other paints", recipe=recipe.name),
        lead=_(
            "The same parts, with another paint: one recipe for each paint that you tick, named after it."
        ),
        replaced=paints_of(version),
        send=_("Save recipes"),
        **_back(recipe),
    )


def _say_what_was_written(request: HttpRequest, written: list[tuple[Recipe, bool]]) -> None:
    new = [recipe.name for recipe, is_new in written if is_new]
    known = [recipe.name for recipe, is_new in written if not is_new]
    if new:
        n = len(new)
        words = ngettext(
            "{n} recipe saved: {names}.", "{n} recipes saved: {names}.", n, n=n, names=", ".join(new)
        )
        messages.success(request, words)
    if known:
        messages.info(request, _("Already there with the same parts: {names}.", names=", ".join(known)))


@require_http_methods(["GET", "POST"])
@role_required(*WORKERS)
def colour(request: HttpRequest, pk: int) -> HttpResponse:
    """The swatch's colour: picked, typed, taken from a photo of its sessions, or guessed by its paints."""
    recipe = get_object_or_404(Recipe.objects.select_related("makes"), pk=pk)
    seen = last_change_number(Material, recipe.makes_id)
    recipe.makes.refresh_from_db()  # read after the number, so that no change slips in between
    version = latest_version(recipe)
    parts = [(part.material, part.parts) for part in version.parts.all()] if version else []
    guess = guessed_colour(parts)
    first = {"seen": seen, "colour": recipe.makes.colour or guess}
    form = ColourForm(request.POST or None, studio=current_studio(request), initial=first)
    changed = saved(
        form,
        lambda: set_colour(
            recipe.makes,
            form.cleaned_data["colour"],
            submission=submission_from(request),
            seen=form.cleaned_data["seen"],
        ),
    )
    if changed is not None:
        messages.success(request, _("The colour of {recipe} has been saved.", recipe=recipe.name))
        return redirect("inventory:recipe", pk=pk)
    photos = _photos_of(recipe)
    return form_page(
        request,
        form,
        "recipes/colour.html",
        title=_("Colour of {recipe}", recipe=recipe.name),
        guess=guess,
        is_guessed=bool(guess) and not recipe.makes.colour,
        without_colour=[paint for paint in paints_of(version) if not paint.colour] if version else [],
        photos=photos,
        photo=chosen_photo(photos, request.GET.get("photo", "")),
        send=_("Save colour"),
        **_back(recipe),
    )


def _photos_of(recipe: Recipe) -> list[SessionPhoto]:
    """The newest photos of the sessions that this recipe was mixed in."""
    photos = SessionPhoto.objects.filter(session__mixes__version__recipe=recipe).select_related("session")
    return list(photos.distinct().order_by("-pk")[:MOST_PHOTOS])


def _back(recipe: Recipe) -> dict[str, str]:
    return {
        "back_url": reverse("inventory:recipe", args=[recipe.pk]),
        "back_label": recipe.name,
        "section": "inventory:recipes",
    }
