"""Choosing a material in many rows of a form, from a list that is read once."""

from collections.abc import Iterable, Mapping
from itertools import groupby
from typing import Any, cast

from django import forms
from django.utils.translation import gettext_lazy

from inventory.materials.models import Kind, Material
from studio.errors import InputError
from studio.pages.forms import StudioForm
from studio.translation import _
from studio.values.numbers import read_small_whole


def stocked_materials() -> dict[int, Material]:
    """Every material that can be received or ordered, by its number; kinds together, then by name."""
    return {pk: material for pk, material in bought_materials().items() if not material.is_archived}


def bought_materials() -> dict[int, Material]:
    """The same with the archived ones: everything that a supplier may sell."""
    return sorted_by_kind(Material.objects.filter(is_free=False))


def sorted_by_kind(materials: Iterable[Material]) -> dict[int, Material]:
    """Materials by their number, kinds together, then by name."""
    by_name = sorted(materials, key=lambda item: (Kind.values.index(item.kind), item.name))
    return {material.pk: material for material in by_name}


def by_kind(materials: Iterable[Material]) -> list[tuple[str, Any]]:
    """Choices grouped by kind, as the materials stand in the list."""
    groups = groupby(materials, key=lambda material: str(Kind(material.kind).label))
    return [("", _("Choose…")), *((kind, [(m.pk, m.name) for m in group]) for kind, group in groups)]


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
        return self.offered[int(text)] if text else None


class MaterialRowForm(StudioForm):
    """A row about so much of one of the materials offered. Once it is valid, `facts` are what it says."""

    amount_field = ""
    material = MaterialChoice(label=gettext_lazy("Material"))

    def __init__(
        self, *args: Any, materials: Mapping[int, Material], choices: list[tuple[str, Any]], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.facts: Any = None
        cast("MaterialChoice", self.fields["material"]).offer(materials, choices)

    def make_facts(self, material: Material, amount: int, cleaned: dict[str, Any]) -> Any:
        """Raises InputError naming the field."""
        raise NotImplementedError

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        material: Material | None = cleaned.get("material")
        if material is None:
            return cleaned
        amount = self.read_amount(self.amount_field, material.measure, density=material.density)
        if amount is None or self.errors:
            return cleaned
        try:
            self.facts = self.make_facts(material, amount, cleaned)
        except InputError as problem:
            self.refuse(problem)
        return cleaned
