"""Choosing a material in many rows of a form, from a list that is read once."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from itertools import groupby
from typing import Any, TypeVar, cast

from django import forms
from django.db.models import Exists, OuterRef, Q, QuerySet
from django.utils.translation import gettext_lazy

from inventory.materials.models import Kind, Material, Supply
from inventory.materials.name_matching import NAMED, could_be, fitting
from inventory.materials.new_in_place import NewMaterials
from inventory.materials.written_facts import LONGEST_LINE, WrittenLine
from studio.errors import InputError
from studio.pages.forms import StudioForm
from studio.translation import _
from studio.values.numbers import read_small_whole

LONGEST_NAME = 120
Written = TypeVar("Written", bound=Any)


def stocked_materials() -> dict[int, Material]:
    """Every material that can be received or ordered, by its number; kinds together, then by name."""
    return {pk: material for pk, material in bought_materials().items() if not material.is_archived}


def bought_materials() -> dict[int, Material]:
    """The same with the archived ones: everything that a supplier may sell."""
    return sorted_by_kind(Material.objects.filter(is_free=False))


def buyable() -> QuerySet[Material]:
    """What can be bought: what is made here and sold by nobody is mixed instead."""
    is_sold = Exists(Supply.objects.filter(material=OuterRef("pk")))
    materials = Material.objects.filter(is_free=False, is_archived=False)
    return materials.filter(Q(recipe__isnull=True) | is_sold)


def buyable_materials() -> dict[int, Material]:
    """The same by its number; kinds together, then by name."""
    return sorted_by_kind(buyable())


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


class ChoosingForm(StudioForm):
    """A row on which one of the materials offered is chosen, as its field `material`."""

    @property
    def chosen(self) -> Material | None:
        """What is chosen so far, whether or not the row can be saved as it stands."""
        field = self.fields["material"]
        pk = read_small_whole(str(self["material"].value() or ""))
        return field.offered.get(pk) if isinstance(field, MaterialChoice) and pk else None


class MaterialRowForm(ChoosingForm):
    """A row about so much of one of the materials offered. Once it is valid, `facts` are what it says.

    With `new`, one that is not offered can be added on the row by its name and kind.
    """

    amount_field = ""
    NEW_FIELDS = ("new_name", "new_kind")
    material = MaterialChoice(label=gettext_lazy("Material"))
    new_name = forms.CharField(
        label=gettext_lazy("Name of a new material"), max_length=LONGEST_NAME, required=False
    )
    new_kind = forms.ChoiceField(
        label=gettext_lazy("Kind"),
        choices=[("", gettext_lazy("By its name")), *((k.value, k.label) for k in Kind if k != Kind.MIX)],
        required=False,
    )
    written = forms.CharField(max_length=LONGEST_LINE, required=False, widget=forms.HiddenInput)

    def __init__(
        self,
        *args: Any,
        materials: Mapping[int, Material],
        choices: list[tuple[str, Any]],
        new: NewMaterials | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.facts: Any = None
        self.new = new
        self._offered = materials
        cast("MaterialChoice", self.fields["material"]).offer(materials, choices)
        if not self.may_name_new:
            for name in self.NEW_FIELDS:
                del self.fields[name]
        else:
            self.fields["material"].required = False

    @property
    def as_written(self) -> WrittenLine | None:
        """The line that it was read from, so that both can be compared."""
        from inventory.materials.written_lines import read_line  # slow to import

        written = self["written"].value()
        return self.with_hint(read_line(str(written))) if written else None

    def with_hint(self, line: Written) -> Written:
        """A line with what is there already that it may mean, while nothing is chosen."""
        names = {} if self.chosen else {pk: each.name for pk, each in self._offered.items()}
        fits = fitting(line.name, names)
        if not fits:
            return line
        if not self.names_new:
            return replace(line, hint=could_be(line.name, fits, names))
        known = "; ".join(names[pk] for pk in fits[:NAMED])
        return replace(line, hint=_("You already have {names}. Choose it if that is meant.", names=known))

    @property
    def may_name_new(self) -> bool:
        return self.new is not None and self.new.may_add

    @property
    def names_new(self) -> bool:
        """Whether a new material was named, so that its fields are shown."""
        return self.may_name_new and bool(self["new_name"].value())

    def make_facts(self, material: Material, amount: int, cleaned: dict[str, Any]) -> Any:
        """Raises InputError naming the field."""
        raise NotImplementedError

    def amount_of(self, material: Material, cleaned: dict[str, Any]) -> int | None:
        """How much of it; a problem lands on its field."""
        return self.read_amount(self.amount_field, material.measure, density=material.density)

    def make_new(self, new: NewMaterials, name: str, kind: str, amount: Any) -> Material:
        """A material that was named. Raises InputError."""
        return new.named(name, kind, amount, self.formatter)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        material = self._material(cleaned)
        if material is None:
            return cleaned
        amount = self.amount_of(material, cleaned)
        if amount is None or self.errors:
            return cleaned
        try:
            self.facts = self.make_facts(material, amount, cleaned)
        except InputError as problem:
            self.refuse(problem)
        return cleaned

    def _was_read(self, name: str) -> bool:
        """Whether the name came from the written line: then whatever is chosen instead counts."""
        return self.as_written is not None and name == self.as_written.name[:LONGEST_NAME]

    def _material(self, cleaned: dict[str, Any]) -> Material | None:
        """What was chosen, or else the new one that was named; a problem lands on its field."""
        chosen: Material | None = cleaned.get("material")
        name, amount = " ".join(cleaned.get("new_name", "").split()), cleaned.get(self.amount_field)
        if chosen is not None or self.new is None or not self.new.may_add:
            if chosen is not None and name and not self._was_read(name):
                self.add_error("new_name", _("Choose a material or name a new one, not both."))
            return chosen
        if self.has_error("material") or self.has_error("barcode"):
            return None
        if not name:
            self.add_error("material", _("Choose a material, or name a new one."))
        elif amount:
            try:
                return self.make_new(self.new, name, cleaned.get("new_kind", ""), amount)
            except InputError as problem:
                self.add_error(self.amount_field if problem.field == "amount" else "new_name", str(problem))
        return None
