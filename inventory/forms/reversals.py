"""Taking a posting back: the one thing to say is why."""

from django import forms

from studio.forms import KeyedForm


class TakeBackForm(KeyedForm):
    reason = forms.CharField(
        label="Why",
        max_length=300,
        help_text="It stays in the ledger beside the original, which is never erased.",
    )
