"""A webhook's form."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from inventory.webhooks.events import events
from inventory.webhooks.models import Webhook
from studio.pages.forms import Fieldset, RowForm


class WebhookForm(RowForm):
    """Where to, and what is told."""

    address = forms.URLField(
        label=gettext_lazy("Address"),
        max_length=300,
        assume_scheme="https",
        help_text=gettext_lazy("Begins with https://. The program there must check the signature."),
    )
    events = forms.MultipleChoiceField(
        label=gettext_lazy("Send"), choices=[], widget=forms.CheckboxSelectMultiple
    )

    fieldsets = (
        Fieldset(gettext_lazy("Where to"), ["address"]),
        Fieldset(gettext_lazy("What is told"), ["events", "with_money"]),
    )

    class Meta:
        model = Webhook
        fields = ("address", "events", "with_money")
        labels = {"with_money": gettext_lazy("With costs and prices")}
        help_texts = {"with_money": gettext_lazy("Otherwise nothing that is sent tells about money.")}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial["events"] = self.instance.event_names
        field = self.fields["events"]
        if isinstance(field, forms.MultipleChoiceField):
            field.choices = [(event.name, event.label) for event in events()]

    def clean_events(self) -> str:
        return ",".join(self.cleaned_data["events"])
