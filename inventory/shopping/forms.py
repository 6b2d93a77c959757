"""Forms of the shopping list."""

from collections.abc import Mapping
from typing import Any, cast

from django import forms
from django.utils.translation import gettext_lazy

from inventory.materials.choices import MaterialChoice, by_kind
from inventory.materials.models import MOST, Material, Supply
from inventory.shopping.actions import Addition
from inventory.shopping.models import LONGEST_TEXT
from studio.errors import InputError
from studio.pages.forms import KeyedForm, StudioForm
from studio.values.numbers import read_small_whole

MOST_LINES = 500


class AdditionForm(StudioForm):
    """One thing to buy: so much of a material, or anything else in words."""

    material = MaterialChoice(label=gettext_lazy("Material"), required=False)
    quantity = forms.CharField(
        label=gettext_lazy("How much"),
        required=False,
        max_length=60,
        help_text=gettext_lazy("Such as 500 ml or 3. It replaces what was added by hand before."),
    )
    text = forms.CharField(
        label=gettext_lazy("Or anything else"),
        required=False,
        max_length=LONGEST_TEXT,
        widget=forms.TextInput(attrs={"placeholder": gettext_lazy("Kitchen roll")}),
    )

    def __init__(self, *args: Any, materials: Mapping[int, Material], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.facts: Addition | None = None
        choice = cast("MaterialChoice", self.fields["material"])
        choice.offer(materials, by_kind(materials.values()))

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        material: Material | None = cleaned.get("material")
        quantity = None
        if material is not None:
            quantity = self.read_amount("quantity", material.measure, density=material.density)
        if self.errors:
            return cleaned
        if material is None and cleaned["quantity"] and not cleaned["text"]:
            self.add_error("material", gettext_lazy("Choose what this is an amount of."))
            return cleaned
        text = " ".join([*filter(None, [cleaned["quantity"] if material is None else "", cleaned["text"]])])
        try:
            self.facts = Addition(material, quantity, text)
        except InputError as problem:
            self.refuse(problem)
        return cleaned


class ChoiceForm(StudioForm):
    """Which pack of a material to buy, and how many."""

    supply = forms.ModelChoiceField(Supply.objects.none(), widget=forms.HiddenInput)
    packs = forms.IntegerField(label=gettext_lazy("Packs"), min_value=1, max_value=MOST)

    def __init__(self, *args: Any, material: Material, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = cast("forms.ModelChoiceField[Supply]", self.fields["supply"])
        field.queryset = material.supplies.select_related("supplier", "material")


class OrderFromListForm(KeyedForm):
    """The packs that the page showed, as "number:packs" each; sent once."""

    lines = forms.CharField(widget=forms.HiddenInput, max_length=40 * MOST_LINES)

    def clean_lines(self) -> list[tuple[int, int]]:
        pairs = []
        for text in str(self.cleaned_data["lines"]).split():
            supply, _colon, packs = text.partition(":")
            number, count = read_small_whole(supply), read_small_whole(packs)
            if not number or not count or count > MOST:
                raise forms.ValidationError(gettext_lazy("Reload the page and try again."))
            pairs.append((number, count))
        return pairs
