"""Choosing the paper that something is printed on, and answering with it."""

from django import forms
from django.http import HttpResponse
from django.utils.translation import gettext_lazy

from studio.pages.forms import StudioForm
from studio.preferences.models import Studio


class PaperForm(StudioForm):
    """The paper of a PDF, read from the address: the studio's own unless one is chosen."""

    paper = forms.ChoiceField(label=gettext_lazy("Paper"), choices=Studio.Paper.choices, required=False)

    @property
    def chosen(self) -> str:
        return self.cleaned_data["paper"] or self.studio.paper


def pdf_answer(content: bytes, name: str) -> HttpResponse:
    """A PDF to be looked at in the browser and printed from there; saved, it has this name."""
    return HttpResponse(
        content,
        content_type="application/pdf",
        headers={
            "Content-Disposition": f'inline; filename="{name}.pdf"',
            "X-Content-Type-Options": "nosniff",
        },
    )
