"""The forms of the page on which a session is logged: one for the day, and rows of cups, pours and sundries."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from inventory.materials.choices import MaterialChoice
from inventory.recipes.actions.mixes import Ingredient
from inventory.recipes.forms.batches import ShortfallForm
from inventory.recipes.forms.choices import FormChoices, offer
from inventory.recipes.forms.cups import MOST_CUPS, CupForm
from inventory.sessions.forms.pours import MOST_ROWS, PourForm
from studio.pages.forms import AmountStepper, CountStepper, DayInput, NotesField, StudioForm, mark_decimals
from studio.pages.formsets import PatternRows, rows_of
from studio.translation import _


class SessionForm(ShortfallForm):
    """The day itself."""

    held_on = forms.DateField(label=gettext_lazy("Day"), widget=DayInput)
    title = forms.CharField(label=gettext_lazy("Title"), required=False, max_length=120)
    minutes = forms.IntegerField(
        label=gettext_lazy("Minutes worked"),
        required=False,
        min_value=0,
        max_value=24 * 60,
        widget=CountStepper(attrs={"data-step-by": "5"}),
        help_text=gettext_lazy("Hands-on time, including mixing."),
    )
    temperature = forms.IntegerField(
        label=gettext_lazy("Temperature, °C"), required=False, min_value=-20, max_value=60
    )
    humidity = forms.IntegerField(
        label=gettext_lazy("Humidity, %"), required=False, min_value=0, max_value=100
    )
    notes = NotesField(max_length=5000)
    confirm_gain = forms.BooleanField(
        label=gettext_lazy(
            "There was more in the bottles than recorded: add the difference to stock, then save this session"
        ),
        required=False,
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["title"].widget.attrs["placeholder"] = _("Ring pours on round boards")


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
        if not is_pattern:
            offer(self, "material", form_choices.sundries, form_choices.sundry_choices)
        mark_decimals(self)
        self.item: Ingredient | None = None

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        material, typed = cleaned.get("material"), cleaned.get("amount")
        if typed and material is not None:
            amount = self.read_amount("amount", material.measure, density=material.density)
            self.item = Ingredient(material, amount) if amount else None
        return cleaned


# A cup is cleared instead: its number never changes, because the pours name it.
CupFormSet = rows_of(CupForm, at_most=MOST_CUPS, formset=PatternRows, can_delete=False)
PourFormSet = rows_of(PourForm, at_most=MOST_ROWS, formset=PatternRows)
SundryFormSet = rows_of(SundryForm, at_most=MOST_ROWS, formset=PatternRows)
