"""What is learnt about a pour after its session."""

from typing import Any

from django import forms

from inventory.models import Pour
from studio.forms import QuantityField, StudioForm
from studio.units import Measure


class PourAmendment(StudioForm):
    outcome = forms.ChoiceField(
        label="How it turned out", choices=Pour.Outcome.choices, widget=forms.RadioSelect
    )
    run_off = QuantityField(
        label="Run-off",
        measure=Measure.VOLUME,
        allow_zero=True,
        required=False,
        help_text="Part of what was poured, in mL. If you weighed the wet tray: grams divided by the density.",
    )
    notes = forms.CharField(required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 3}))

    @classmethod
    def values_of(cls, pour: Pour) -> dict[str, Any]:
        return {"outcome": pour.outcome, "run_off": pour.run_off, "notes": pour.notes}
