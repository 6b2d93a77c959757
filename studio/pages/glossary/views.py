"""The page of words. A page that uses one of them links to it with the tag {% what_is "lot" %}."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string
from django.utils.safestring import SafeString
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_safe

from studio.accounts.roles import EVERYONE, role_required
from studio.pages.glossary.ordering_terms import ORDERING
from studio.pages.glossary.price_terms import PRICES
from studio.pages.glossary.terms import BOOKS, COSTS, SHELF, Word
from studio.translation import _

if TYPE_CHECKING:
    from django.utils.functional import _StrOrPromise


@dataclass(frozen=True, slots=True)
class Group:
    """Words of one subject, under one heading."""

    anchor: str
    title: "_StrOrPromise"
    words: tuple[Word, ...]


GROUPS = (
    Group("shelf", gettext_lazy("Stock"), SHELF),
    Group("ordering", gettext_lazy("Ordering"), ORDERING),
    Group("costs", gettext_lazy("Costs"), COSTS),
    Group("prices", gettext_lazy("Prices"), PRICES),
    Group("books", gettext_lazy("Records"), BOOKS),
)


def words() -> Iterator[Word]:
    """Every word on the page."""
    for group in GROUPS:
        yield from group.words


def word(anchor: str) -> Word:
    """The word at an anchor. Raises KeyError: a page that links to a word that is not there is mistaken."""
    return {item.anchor: item for item in words()}[anchor]


def explained(anchor: str) -> SafeString:
    """A small link, What is this?, to a word's place on the page of words."""
    return render_to_string("parts/what_is.html", {"word": word(anchor)})


def term_mark(anchor: str) -> SafeString:
    """A question mark that leads to a word's place on the page of words."""
    return render_to_string("parts/term_mark.html", {"word": word(anchor)})


@require_safe
@role_required(*EVERYONE)
def glossary(request: HttpRequest) -> HttpResponse:
    lead = _("What the terms of stock control and bookkeeping used here mean.")
    return render(request, "glossary.html", {"title": _("Glossary"), "lead": lead, "groups": GROUPS})
