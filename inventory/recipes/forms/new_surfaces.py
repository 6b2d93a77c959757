"""A surface that is added on the row that first needs it."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from inventory.materials.models import Kind, Material
from inventory.materials.new_in_place import NewMaterials
from studio.errors import InputError
from studio.pages.forms import StudioForm
from studio.translation import _
from studio.values.units import Measure


class NewSurfaceForm(StudioForm):
    """A row that names a `surface`, or a new one by its name, which tells its size. Saved with the rest of the form."""

    new_surface = forms.CharField(
        label=gettext_lazy("Name of a new surface"),
        max_length=120,
        required=False,
        help_text=gettext_lazy("With its size, such as Board 30 x 40 cm."),
    )
    new: NewMaterials | None = None

    def offer_new(self, new: NewMaterials) -> None:
        """Let a surface be named, unless the person may add none."""
        if not new.may_add:
            del self.fields["new_surface"]
            return
        self.new = new
        if self["new_surface"].value():
            self.fields["surface"].required = False

    @property
    def names_new(self) -> bool:
        """Whether a new surface was named, so that its field is shown."""
        return self.new is not None and bool(self["new_surface"].value())

    @property
    def adds_surface(self) -> bool:
        """Whether the valid row names a surface that is not saved yet."""
        surface: Material | None = self.cleaned_data.get("surface")
        return surface is not None and surface.pk is None

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        name = " ".join(cleaned.get("new_surface", "").split())
        if self.new is None or not name:
            return cleaned
        if cleaned.get("surface") is not None:
            self.add_error("new_surface", _("Choose a surface or name a new one, not both."))
            return cleaned
        try:
            cleaned["surface"] = self.new.of_measure(name, Kind.SURFACE, Measure.COUNT, self.formatter)
        except InputError as problem:
            self.add_error("new_surface", str(problem))
        return cleaned
