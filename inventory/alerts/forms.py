"""Until when an alert is snoozed, and what one person wants to be told of by email."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from inventory.alerts import kinds
from studio.pages.forms import DayInput, EditForm, StudioForm


class SnoozeForm(StudioForm):
    """A day on which an alert is shown again."""

    until = forms.DateField(
        label=gettext_lazy("Show it again on"),
        input_formats=["%Y-%m-%d"],
        widget=DayInput,
        help_text=gettext_lazy("Until then it is left out of Today and of the daily email."),
    )


class DigestForm(EditForm):
    """What one person wants to be told of by email."""

    wants_digest = forms.BooleanField(
        label=gettext_lazy("Send me the daily email"),
        required=False,
        help_text=gettext_lazy("One email on a day on which there is something new, and none otherwise."),
    )
    muted = forms.MultipleChoiceField(
        label=gettext_lazy("Leave these out"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=gettext_lazy("They are still on the page Alerts."),
    )

    def __init__(self, *args: Any, left_out: list[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offered = [(code, label) for code, label in kinds.choices() if code not in left_out]
        self.fields["muted"].choices = offered  # type: ignore[attr-defined]
