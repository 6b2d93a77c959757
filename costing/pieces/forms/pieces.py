"""What is said of a piece: its title and pours, a step, its price, minutes, and its photo."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from costing.pieces.models import PieceState
from studio.pages.forms import DayInput, EditForm, KeyedForm, MoneyField, StudioForm
from studio.translation import _
from studio.values.numbers import read_small_whole

LONGEST_NOTE = 300
MOST_MINUTES = 10_000


class PieceForm(StudioForm):
    """A new piece of the pours that were ticked."""

    title = forms.CharField(label=gettext_lazy("Title"), max_length=160)
    size_note = forms.CharField(
        label=gettext_lazy("If it is a set"),
        max_length=60,
        required=False,
        help_text=gettext_lazy("Such as: set of four, diptych."),
    )
    description = forms.CharField(
        label=gettext_lazy("Description"),
        max_length=2000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    pours = forms.TypedMultipleChoiceField(
        coerce=int,
        widget=forms.CheckboxSelectMultiple,
        error_messages={
            "required": gettext_lazy("Tick at least one pour."),
            "invalid_choice": gettext_lazy("Tick pours of the list."),
        },
    )

    def __init__(self, *args: Any, pours: list[int], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choice = self.fields["pours"]
        if isinstance(choice, forms.TypedMultipleChoiceField):
            choice.choices = [(pour, str(pour)) for pour in pours]

    @property
    def ticked(self) -> set[int]:
        """The pours that are ticked, as they were sent or as the page begins."""
        value = self["pours"].value() or []
        return {number for pour in value if (number := read_small_whole(str(pour))) is not None}


class StepForm(StudioForm):
    """A step on or back; which one is the button that was pressed."""

    to = forms.ChoiceField(choices=PieceState.choices, widget=forms.HiddenInput)
    on = forms.DateField(label=gettext_lazy("Day"), widget=DayInput)
    note = forms.CharField(label=gettext_lazy("Note"), max_length=LONGEST_NOTE, required=False)


class PriceForm(EditForm):
    """The asking price. Left empty, the piece has none."""

    price = MoneyField(label=gettext_lazy("Asking price, tax included"), required=False, example="45.00")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        label = _("Asking price ({currency}), tax included", currency=self.studio.currency)
        self.fields["price"].label = label


class MinutesForm(KeyedForm):
    """Minutes worked on a piece after its session."""

    work = forms.CharField(
        label=gettext_lazy("Labour"),
        max_length=80,
        widget=forms.TextInput(attrs={"placeholder": gettext_lazy("Sanding, photographing, framing")}),
    )
    minutes = forms.IntegerField(label=gettext_lazy("Minutes"), min_value=1, max_value=MOST_MINUTES)
    on = forms.DateField(label=gettext_lazy("Day"), widget=DayInput)


class PhotoForm(EditForm):
    """One picture file. Its name and declared type are not believed; its content is checked when it is stored."""

    advice = gettext_lazy("Choose your photo again to replace the current one.")
    photo = forms.FileField(
        label=gettext_lazy("Photo"),
        help_text=gettext_lazy("JPEG, PNG or WebP, up to 10 MB. Location data is removed from the file."),
        widget=forms.ClearableFileInput(attrs={"accept": "image/jpeg,image/png,image/webp"}),
    )
