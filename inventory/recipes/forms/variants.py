"""A recipe like one that is there: its name, or the paints that it is written for. And the colour of its swatch."""

from collections.abc import Iterable
from typing import Any, cast

from django import forms
from django.utils.translation import gettext_lazy

from inventory.materials.choices import MaterialChoice, by_kind, sorted_by_kind
from inventory.materials.models import Material
from inventory.recipes.actions.recipes import MIXABLE
from inventory.recipes.actions.variants import COLOURED, OtherPaints, paints_of
from inventory.recipes.forms.choices import offer
from inventory.recipes.models import RecipeVersion
from studio.pages.colour_input import ColourInput
from studio.pages.forms import EditForm, StudioForm
from studio.translation import _
from studio.values.numbers import read_small_whole


class DuplicateForm(StudioForm):
    """What the copy is called."""

    name = forms.CharField(
        label=gettext_lazy("Name of the copy"),
        max_length=120,
        help_text=gettext_lazy("The material that it makes gets this name too."),
    )


class ForPaintsForm(StudioForm):
    """The paints that a recipe is also written for, and which of its own they replace."""

    replaces = MaterialChoice(label=gettext_lazy("Instead of"))
    paints = forms.TypedMultipleChoiceField(
        label=gettext_lazy("Paints"),
        coerce=int,
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": gettext_lazy("Tick at least one paint.")},
    )

    def __init__(self, *args: Any, version: RecipeVersion, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.version = version
        own = {paint.pk: paint for paint in paints_of(version)}
        self.offered = _other_paints(version)
        if len(own) == 1:
            del self.fields["replaces"]
        else:
            offer(self, "replaces", own, by_kind(own.values()))
        paints = cast("forms.TypedMultipleChoiceField", self.fields["paints"])
        paints.choices = [(pk, paint.name) for pk, paint in self.offered.items()]

    @property
    def can_replace(self) -> bool:
        """Whether there is a paint in the recipe, and another one."""
        return bool(self.offered) and bool(paints_of(self.version))

    def wanted(self) -> OtherPaints:
        """Once the form is valid. Raises InputError."""
        cleaned = self.cleaned_data
        paints = [self.offered[pk] for pk in cleaned["paints"]]
        return OtherPaints(self.version, paints, cleaned.get("replaces"))


def _other_paints(version: RecipeVersion) -> dict[int, Material]:
    """Paints and mixed colours that the recipe neither holds nor makes."""
    inside = {part.material_id for part in version.parts.all()} | {version.recipe.makes_id}
    paints = Material.objects.filter(kind__in=COLOURED, is_archived=False, is_free=False, measure__in=MIXABLE)
    return sorted_by_kind(paints.exclude(pk__in=inside))


class ColourForm(EditForm):
    """The colour of a swatch."""

    colour = forms.CharField(
        label=gettext_lazy("Colour"),
        max_length=7,
        required=False,
        widget=ColourInput,
        help_text=gettext_lazy("Such as #1f5f6b. Leave blank for no swatch."),
    )


def chosen_photo(photos: Iterable[Any], asked: str) -> Any:
    """The photo that was asked for, or else the first; None where there is none."""
    listed = list(photos)
    number = read_small_whole(asked)
    return next((photo for photo in listed if photo.pk == number), listed[0] if listed else None)


def suggested_name(name: str) -> str:
    """What a copy may be called."""
    return _("{name} (copy)", name=name)
