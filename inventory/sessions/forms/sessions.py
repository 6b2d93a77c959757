"""The forms of the page on which a session is logged: one for the day, and rows of cups, pours and sundries."""

from typing import Any, cast

from django import forms
from django.utils.translation import gettext_lazy

from inventory.recipes.forms.cups import MOST_CUPS, CupForm
from inventory.sessions.forms.pours import MOST_ROWS, PourForm
from inventory.sessions.forms.sundries import SundryForm
from studio.pages.forms import DayInput, KeyedForm
from studio.pages.formsets import Rows
from studio.pages.steppers import CountStepper
from studio.translation import _


class SessionForm(KeyedForm):
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
    notes = forms.CharField(
        label=gettext_lazy("Notes"), required=False, max_length=5000, widget=forms.Textarea(attrs={"rows": 3})
    )
    confirm_gain = forms.BooleanField(
        label=gettext_lazy(
            "There was more in the bottles than recorded: add the difference to stock, then save this session"
        ),
        required=False,
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["title"].widget.attrs["placeholder"] = _("Ring pours on round boards")


class PatternRows(Rows):
    """Rows that say nothing twice, so that a page of many stays light.

    What a field is for stands on the first row; the pattern of a new row leaves its long lists of choices to those that
    are there.
    """

    def get_form_kwargs(self, index: int | None) -> dict[str, Any]:
        return {**super().get_form_kwargs(index), "is_pattern": index is None and self.has_rows}

    def add_fields(self, form: forms.Form, index: int | None) -> None:
        super().add_fields(form, index)
        if self.has_rows if index is None else index > 0:
            for name in form.base_fields.keys() & form.fields.keys():
                form.fields[name].help_text = ""


CupFormSet = cast(
    "type[PatternRows]",
    forms.formset_factory(
        CupForm, formset=PatternRows, max_num=MOST_CUPS, absolute_max=MOST_CUPS, validate_max=True
    ),
)
PourFormSet, SundryFormSet = (
    cast(
        "type[PatternRows]",
        forms.formset_factory(
            row,
            formset=PatternRows,
            max_num=MOST_ROWS,
            absolute_max=MOST_ROWS,
            validate_max=True,
            can_delete=True,
        ),
    )
    for row in (PourForm, SundryForm)
)
