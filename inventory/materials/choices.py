"""Choosing a material in many rows of a form, from a list that is read once."""

from collections.abc import Iterable, Mapping
from itertools import groupby
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from inventory.materials.models import Kind, Material
from studio.translation import _
from studio.values.numbers import read_small_whole


def stocked_materials() -> dict[int, Material]:
    """Every material that can be received or ordered, by its number; kinds together, then by name."""
    return {pk: material for pk, material in bought_materials().items() if not material.is_archived}


def bought_materials() -> dict[int, Material]:
    """The same with the archived ones: everything that a supplier may sell."""
    materials = Material.objects.filter(is_free=False)
    order = {kind: position for position, kind in enumerate(Kind.values)}
    return {
        material.pk: material
        for material in sorted(materials, key=lambda item: (order[item.kind], item.name))
    }


def by_kind(materials: Iterable[Material]) -> list[tuple[str, Any]]:
    """Choices grouped by kind, as the materials stand in the list."""
    groups = groupby(materials, key=lambda material: str(Kind(material.kind).label))
    return [("", _("Choose…")), *((kind, [(m.pk, m.name) for m in found]) for kind, found in groups)]


class MaterialChoice(forms.ChoiceField):
    """One of the offered materials; cleans to the material itself, or None."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.offered: Mapping[int, Material] = {}

    def offer(self, materials: Mapping[int, Material], choices: list[tuple[str, Any]]) -> None:
        """Say what may be chosen. The choices are worked out once and shared by every row."""
        self.offered, self.choices = materials, choices

    def valid_value(self, value: Any) -> bool:
        return read_small_whole(str(value)) in self.offered

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if not text:
            return None
        found = self.offered.get(int(text))
        if found is None:
            raise ValidationError(_("Choose one of the materials listed."))
        return found
