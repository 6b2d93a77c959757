"""Rows of sundries, as they are typed at the bench."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from inventory.materials.choices import MaterialChoice
from inventory.recipes.actions.mixes import Ingredient
from inventory.recipes.forms.choices import FormChoices
from studio.pages.forms import StudioForm
from studio.pages.steppers import AmountStepper, mark_decimals


class SundryForm(StudioForm):
    """Gloves, towels and the like, charged to every pour alike."""

    material = MaterialChoice(
        label=gettext_lazy("Sundry"), error_messages={"required": gettext_lazy("Choose what was used.")}
    )
    amount = forms.CharField(
        label=gettext_lazy("How many or how much"),
        max_length=60,
        widget=AmountStepper(attrs={"data-step-from": "1"}),
        error_messages={"required": gettext_lazy("Enter how many or how much was used.")},
    )

    def __init__(
        self, *args: Any, form_choices: FormChoices, is_pattern: bool = False, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        material = self.fields["material"]
        if isinstance(material, MaterialChoice) and not is_pattern:
            material.offer(form_choices.sundries, form_choices.sundry_choices)
        mark_decimals(self)
        self.item: Ingredient | None = None

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        material, typed = cleaned.get("material"), cleaned.get("amount")
        if typed and material is not None:
            amount = self.read_amount("amount", material.measure, density=material.density)
            self.item = Ingredient(material, amount) if amount else None
        return cleaned
