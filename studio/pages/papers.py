"""Choosing the paper that something is printed on."""

from django import forms
from django.utils.translation import gettext_lazy

from studio.pages.forms import StudioForm
from studio.preferences.models import Studio


class PaperForm(StudioForm):
    """The paper of a PDF, read from the address: the studio's own unless one is chosen."""

    paper = forms.ChoiceField(label=gettext_lazy("Paper"), choices=Studio.Paper.choices, required=False)

    @property
    def chosen(self) -> str:
        return self.cleaned_data["paper"] or self.studio.paper
