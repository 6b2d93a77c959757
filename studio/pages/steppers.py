"""Fields that get a minus and a plus beside them, for gloved hands: a script adds and works the buttons."""

from typing import Any

from django import forms

from studio.pages.forms import StudioForm


class Stepper(forms.Widget):
    """Marks a field for `inventory/steppers.js`, which tells what the marks mean. Without it nothing is missing."""

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__({"data-stepper": True, **(attrs or {})})


class AmountStepper(Stepper, forms.TextInput):
    """An amount as she types it: 300 ml, 1/2 l, 2 each."""


class CountStepper(Stepper, forms.NumberInput):
    """A whole number."""


def mark_decimals(form: StudioForm) -> None:
    """Tell the amounts of a form which decimal mark the studio writes.

    Their greatest length is left to the reader of amounts, which says what is wrong: there are dozens on a page.
    """
    for field in form.fields.values():
        if isinstance(field.widget, AmountStepper):
            field.widget.attrs.pop("maxlength", None)
            if form.formatter.decimal_comma:
                field.widget.attrs["data-decimal-comma"] = True
