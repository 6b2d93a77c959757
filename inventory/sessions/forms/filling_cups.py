"""One cup on the scale or in the measuring cup: how much, and what is shown after each part. A GET form."""

from typing import Any

from django import forms
from django.forms import BoundField
from django.utils.translation import gettext_lazy

from inventory.recipes.actions.mixes import blend_of, planned
from inventory.recipes.filling import Instrument
from inventory.recipes.models import RecipeVersion
from inventory.sessions.queries.filling_cups import FilledFacts
from studio.errors import InputError, MeniscusError
from studio.pages.forms import StudioForm
from studio.translation import _
from studio.values.units import Measure


class FillingForm(StudioForm):
    """What is typed is read once the instrument is known: the scale, or the measuring cup."""

    wanted = forms.CharField(
        label=gettext_lazy("Total amount"),
        max_length=60,
        widget=forms.TextInput(attrs={"placeholder": "300 ml"}),
        error_messages={"required": gettext_lazy("Enter how much you want to mix, such as 300 ml.")},
    )
    empty = forms.CharField(
        label=gettext_lazy("The empty cup weighs"),
        max_length=60,
        required=False,
        widget=forms.TextInput(attrs={"placeholder": "12 g"}),
        help_text=gettext_lazy("Leave blank if you set the scale to zero with the cup on it."),
    )
    room = forms.CharField(
        label=gettext_lazy("The cup holds at most"),
        max_length=60,
        required=False,
        widget=forms.TextInput(attrs={"placeholder": "500 ml"}),
    )

    def __init__(self, *args: Any, version: RecipeVersion, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.version = version
        self.instrument = Instrument(Measure.MASS, self.studio.scale_step)
        self.facts: FilledFacts | None = None
        self.parts = list(version.parts.all())
        for part in self.parts:
            self.fields[_shows(part.material_id)] = forms.CharField(
                label=_("Shown after {name}", name=part.material.name), required=False, max_length=60
            )

    @property
    def cup_fields(self) -> list[BoundField]:
        names = ["wanted", "room"]
        if self.instrument.measure == Measure.MASS:
            names.insert(1, "empty")
        return [self[name] for name in names]

    @property
    def shows_fields(self) -> list[BoundField]:
        return [self[_shows(part.material_id)] for part in self.parts]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        makes = self.version.recipe.makes
        wanted = self.read_amount("wanted", makes.measure, density=makes.density)
        if wanted is None:
            return cleaned
        try:
            parts = planned(self.version, wanted)
            self.instrument = Instrument.for_parts(parts, self.studio)
        except MeniscusError as problem:
            self.refuse(problem)
            return cleaned
        density = _density(parts)
        measure = self.instrument.measure
        room = self.read_amount("room", measure, density=density)
        empty = self.read_amount("empty", measure, allow_zero=True) if measure == Measure.MASS else 0
        shows = [
            self.read_amount(
                _shows(part.material_id), measure, density=part.material.density, allow_zero=True
            )
            for part in self.parts
        ]
        if not self.errors:
            self.facts = FilledFacts(self.version, wanted, shows, empty or 0, room)
        return cleaned

    def refuse(self, problem: MeniscusError, **formsets: Any) -> None:
        """A reading that falls is refused at its own field."""
        if isinstance(problem, InputError) and problem.field == "shows" and problem.line:
            self.add_error(_shows(self.parts[problem.line - 1].material_id), str(problem))
        else:
            super().refuse(problem, **formsets)


def _density(parts: Any) -> int | None:
    try:
        return blend_of(parts)
    except MeniscusError:
        return None


def _shows(material: int) -> str:
    return f"shows_{material}"
