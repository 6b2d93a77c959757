"""Choosing the paper that something is printed on, and answering with it."""

from collections.abc import Iterable
from typing import IO, Any, overload

from django import forms
from django.contrib import messages
from django.http import FileResponse, HttpRequest, HttpResponse
from django.utils.translation import gettext_lazy

from studio.pages.forms import StudioForm
from studio.papers.frame import Paper, paper_named
from studio.papers.typography import unprintable
from studio.preferences.context import current_studio
from studio.preferences.models import Studio
from studio.translation import _

SMALL = [("A6", "A6")]
MOST_SHOWN = 20


def grey_field() -> forms.BooleanField:
    return forms.BooleanField(label=gettext_lazy("In grey, without colours"), required=False)


class PaperForm(StudioForm):
    """The paper of a PDF, read from the address: the studio's own unless one is chosen; in colour unless grey is.

    A page that offers it hands in the texts that will be printed, so that it can warn of what cannot be.
    """

    paper = forms.ChoiceField(label=gettext_lazy("Paper"), choices=Studio.Paper.choices, required=False)
    grey = grey_field()

    def __init__(self, *args: Any, texts: Iterable[str] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.warning = print_warning(texts)

    @classmethod
    def offered(cls, studio: Studio, *texts: str, **kwargs: Any) -> "PaperForm":
        """The form on a page, before anything is chosen."""
        return cls(studio=studio, texts=texts, initial={"paper": studio.paper}, **kwargs)

    @property
    def chosen(self) -> Paper:
        return paper_named(
            self.cleaned_data["paper"] or self.studio.paper, is_grey=bool(self.cleaned_data["grey"])
        )


class SmallPaperForm(PaperForm):
    """For what also fits on a postcard."""

    paper = forms.ChoiceField(
        label=gettext_lazy("Paper"), choices=[*Studio.Paper.choices, *SMALL], required=False
    )


def print_warning(texts: Iterable[str]) -> str:
    """What to say before a paper is printed on which some characters will be question marks."""
    missing = "".join(dict.fromkeys("".join(unprintable(text) for text in texts)))
    if not missing:
        return ""
    return _(
        "These characters cannot be printed and will be question marks on paper: {characters}",
        characters=" ".join(missing[:MOST_SHOWN]),
    )


def asked_paper(request: HttpRequest, form: type[PaperForm] = PaperForm) -> Paper | None:
    """The paper that an address asks for; for one that there is not a message says so."""
    asked = form(request.GET, studio=current_studio(request))
    if asked.is_valid():
        return asked.chosen
    messages.error(request, _("Choose one of the papers in the list."))
    return None


@overload
def pdf_answer(content: bytes, name: str) -> HttpResponse: ...
@overload
def pdf_answer(content: IO[bytes], name: str) -> FileResponse: ...
def pdf_answer(content: bytes | IO[bytes], name: str) -> HttpResponse | FileResponse:
    """A PDF to be looked at in the browser and printed from there; saved, it has this name.

    A file is sent piece by piece and closed after that: a long paper is never all in memory.
    """
    headers = {"Content-Disposition": f'inline; filename="{name}.pdf"', "X-Content-Type-Options": "nosniff"}
    answer = HttpResponse if isinstance(content, bytes) else FileResponse
    return answer(content, content_type="application/pdf", headers=headers)
