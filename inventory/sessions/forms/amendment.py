"""What is learnt about a pour after its session."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from inventory.sessions.models import Pour
from studio.pages.forms import EditForm, QuantityField
from studio.values.units import Measure


class PourAmendment(EditForm):
    outcome = forms.ChoiceField(
        label=gettext_lazy("Result"), choices=Pour.Outcome.choices, widget=forms.RadioSelect
    )
    run_off = QuantityField(
        label=gettext_lazy("Run-off"),
        measure=Measure.VOLUME,
        allow_zero=True,
        required=False,
        help_text=gettext_lazy(
            "Part of what was poured, in mL. If you weighed the wet tray: grams divided by the density."
        ),
    )
    notes = forms.CharField(
        label=gettext_lazy("Notes"), required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 3})
    )

    @classmethod
    def values_of(cls, pour: Pour, *, seen: int) -> dict[str, Any]:
        return {"seen": seen, "outcome": pour.outcome, "run_off": pour.run_off, "notes": pour.notes}
