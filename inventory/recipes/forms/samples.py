"""Densities asked for inside a form that holds more: a weighed sample beside the cup that needs it."""

import re
from collections.abc import Iterable, Mapping
from typing import Any

from django import forms
from django.contrib import messages
from django.forms import BoundField
from django.http import HttpRequest

from inventory.materials.actions import save_material
from inventory.materials.forms.materials import DensitySampleForm
from inventory.materials.models import Material
from studio.auditing.queries import last_change_number
from studio.errors import MeniscusError
from studio.pages.forms import StudioForm
from studio.pages.saving import submission_from
from studio.preferences.context import current_studio
from studio.translation import _

DO = "density"  # the button that saves the samples of a form
_SAMPLE = re.compile(r"(?:(.+)-)?sample_([0-9]{1,18})", re.ASCII)


class SampledForm(StudioForm):
    """A form with two fields for each material that has no density."""

    samples: list[tuple[Material, int, BoundField, BoundField]]

    def _add_samples(self, materials: Iterable[Material]) -> None:
        """What a recipe makes is left out: its density follows from its parts."""
        self.samples = []
        for material in materials:
            if material.density is not None or hasattr(material, "recipe"):
                continue
            seen = str(self.data.get(self.add_prefix(f"seen_{material.pk}"), ""))
            number = int(seen) if seen.isdigit() else last_change_number(Material, material.pk)
            for name, label, example in (
                (f"sample_{material.pk}", _("Volume of the sample"), "50 ml"),
                (f"weighs_{material.pk}", _("Its weight"), "55 g"),
            ):
                widget = forms.TextInput(attrs={"placeholder": example})
                self.fields[name] = forms.CharField(label=label, required=False, max_length=60, widget=widget)
            fields = (self[f"sample_{material.pk}"], self[f"weighs_{material.pk}"])
            self.samples.append((material, number, *fields))

    def refuse_unsaved_samples(self) -> None:
        """A sample that was typed and not saved would be lost."""
        for _material, _seen, sample, _weight in self.samples:
            if self.cleaned_data.get(sample.name):
                self.add_error(sample.name, _("Choose “Save density” first, or clear this."))


def save_samples(request: HttpRequest) -> None:
    """Save the densities of all samples typed on a page; a message says what is wrong with one."""
    for name in list(request.POST):
        found = _SAMPLE.fullmatch(name)
        if found and request.POST[name].strip():
            _save(request, found[1], int(found[2]))


def _save(request: HttpRequest, prefix: str | None, number: int) -> None:
    material = Material.objects.filter(pk=number, recipe=None).first()
    if material is None:
        return
    start = f"{prefix}-" if prefix else ""
    typed: Mapping[str, Any] = {
        "sample": request.POST.get(f"{start}sample_{number}", ""),
        "full": request.POST.get(f"{start}weighs_{number}", ""),
        "seen": request.POST.get(f"{start}seen_{number}", ""),
    }
    form = DensitySampleForm(typed, instance=material, studio=current_studio(request))
    if form.is_valid():
        try:
            save_material(form.instance, submission=submission_from(request), seen=form.cleaned_data["seen"])
        except MeniscusError as problem:
            form.refuse(problem)
    if form.errors:
        problems = " ".join(str(error) for errors in form.errors.values() for error in errors)
        messages.error(request, _("Density of {name}: {problems}", name=material, problems=problems))
    else:
        density = form.formatter.density(material.density or 0)
        messages.success(request, _("{name}: {density} has been saved.", name=material, density=density))
