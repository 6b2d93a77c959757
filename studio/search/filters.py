"""Pages that are found by what somebody wants to do: those of the menu and the settings, and tasks that floors add."""

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.urls import reverse
from django.utils.translation import gettext_lazy

from studio.pages.navigation import everyone, menu
from studio.setup import menu as settings
from studio.values.folding import fold

if TYPE_CHECKING:
    from django.utils.functional import _StrOrPromise

    from studio.accounts.models import User

MOST_PAGES = 8
LONGEST_ENDING = 2  # of a plural: colours, boxes
SHORTEST_STEM = 4
# Words that say nothing of what is looked for.
FILLERS = gettext_lazy("a an the to of for in my how do I can where is")

_WORD = re.compile(r"\w+")


@dataclass(frozen=True, slots=True)
class SearchPage:
    """A page: the name of its address, what it is called, what stands beneath it, and other words that find it."""

    to: str
    label: "_StrOrPromise"
    note: "_StrOrPromise" = ""
    words: "_StrOrPromise" = ""
    allowed: "Callable[[User], bool]" = everyone

    @property
    def url(self) -> str:
        return reverse(self.to)


_TASKS: list[SearchPage] = []
_WORDS: dict[str, "_StrOrPromise"] = {}


def register(*tasks: SearchPage) -> None:
    """Let these be found besides the pages of the menu and the settings."""
    _TASKS.extend(tasks)


def register_words(words: "Mapping[str, _StrOrPromise]") -> None:
    """Let pages of the menu and the settings be found by these words as well, by the name of their address."""
    _WORDS.update(words)


def found_pages(text: str, user: "User") -> list[SearchPage]:
    """The pages this person may open that have every word; those that are called so first."""
    fillers = set(_words(str(FILLERS)))
    asked = [word for word in _words(text) if word not in fillers]
    if not asked:
        return []
    by_label, others = [], []
    for page in pages_for(user):
        label = _words(str(page.label))
        if _has_all(asked, label):
            by_label.append(page)
        elif _has_all(asked, [*label, *_words(f"{page.words} {page.note}")]):
            others.append(page)
    return (by_label + others)[:MOST_PAGES]


def pages_for(user: "User") -> Iterator[SearchPage]:
    """The pages this person may open, in the order of the menu."""
    seen = set()
    for group, entries in menu(user):
        for entry in entries:
            seen.add(entry.to)
            yield SearchPage(entry.to, entry.label, group.label, _WORDS.get(entry.to, ""))
    for page in settings.pages() if user.is_owner else ():
        if page.to not in seen:
            yield SearchPage(page.to, page.title, page.text, _WORDS.get(page.to, ""))
    yield from (task for task in _TASKS if task.allowed(user))


def _words(text: str) -> list[str]:
    return _WORD.findall(fold(text))


def _has_all(asked: list[str], words: list[str]) -> bool:
    return all(any(_is_like(word, each) for each in words) for word in asked)


def _is_like(asked: str, word: str) -> bool:
    """The word begins so, or is the same without the ending of a plural."""
    shorter = len(word) >= SHORTEST_STEM and 0 < len(asked) - len(word) <= LONGEST_ENDING
    return word.startswith(asked) or (shorter and asked.startswith(word))


register_words(
    {
        "settings": gettext_lazy("options, preferences, configure, change"),
        "imports": gettext_lazy("spreadsheet, CSV, table, upload, bring in, old records"),
        "backups": gettext_lazy(
            "export, download everything, archive, restore, safe copy, move to another computer"
        ),
        "change-log": gettext_lazy("who changed what, history, audit"),
        "glossary": gettext_lazy("what does a word mean, help, terms, explain"),
        "studio-settings": gettext_lazy("country, units, address, theme, decimal comma, date"),
        "rates": gettext_lazy("wage, labour, VAT, sales tax, small business"),
        "people": gettext_lazy("user, account, password, helper, bookkeeper, role, permission"),
        "on-phones": gettext_lazy("mobile, tablet, QR code"),
    }
)
register(
    SearchPage(
        "two-factor",
        gettext_lazy("Two-factor login"),
        words=gettext_lazy("security, code, authenticator, second factor"),
    )
)
