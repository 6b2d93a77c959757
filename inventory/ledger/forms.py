"""Taking a posting back: the one thing to say is why."""

from django import forms
from django.utils.translation import gettext_lazy

from studio.pages.forms import KeyedForm


class TakeBackForm(KeyedForm):
    reason = forms.CharField(
        label=gettext_lazy("Why"),
        max_length=300,
        help_text=gettext_lazy("It stays in the ledger beside the original, which is never erased."),
    )
