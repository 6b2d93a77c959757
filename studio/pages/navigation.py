"""The navigation's entries: each floor registers the pages that it brings, from its app's `ready`."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.utils.translation import gettext_lazy

from studio.accounts.models import Role

if TYPE_CHECKING:
    from django.utils.functional import _StrOrPromise

    from studio.accounts.models import User


def everyone(user: "User") -> bool:
    return True


@dataclass(
    frozen=True, slots=True, eq=False
)  # a label in another language is another text: compared as itself
class Group:
    """A heading of the menu; those with a lower position come first."""

    label: "_StrOrPromise"
    position: int


@dataclass(frozen=True, slots=True)
class MenuEntry:
    """A page in the menu: its label, the name of its address, its icon, and who sees it.

    `count` names a number that every page's context holds; `count_words` says what it counts.
    """

    label: "_StrOrPromise"
    to: str
    icon: str
    allowed: Callable[["User"], bool] = everyone
    count: str = ""
    count_words: "_StrOrPromise" = ""


FIRST = Group("", 0)
RECORDS = Group(gettext_lazy("Records"), 80)
SET_UP = Group(gettext_lazy("Set-up"), 90)

_MENU: dict[Group, list[MenuEntry]] = {}
_BAR: dict[int, tuple[MenuEntry, ...]] = {}


def register(group: Group, *entries: MenuEntry) -> None:
    """Add entries to the end of a group of the menu."""
    _MENU.setdefault(group, []).extend(entries)


def register_bar(place: int, *entries: MenuEntry) -> None:
    """Put into a place of the phone's bottom bar the first of these entries that its reader may see."""
    _BAR[place] = entries


def menu(user: "User") -> list[tuple[Group, list[MenuEntry]]]:
    """The groups in their order, each with the entries that this person may see."""
    groups = sorted(_MENU, key=lambda group: group.position)
    listed = [(group, [entry for entry in _MENU[group] if entry.allowed(user)]) for group in groups]
    return [(group, entries) for group, entries in listed if entries]


def bar(user: "User") -> list[MenuEntry]:
    """The bottom bar's entries for this person."""
    places = [next((entry for entry in _BAR[place] if entry.allowed(user)), None) for place in sorted(_BAR)]
    return [entry for entry in places if entry is not None]


register(
    RECORDS,
    MenuEntry(gettext_lazy("Change log"), "change-log", "note", lambda user: user.role != Role.HELPER),
    MenuEntry(gettext_lazy("Glossary"), "glossary", "words"),
)
register(
    SET_UP,
    MenuEntry(gettext_lazy("Settings"), "settings", "settings", lambda user: user.is_owner),
    MenuEntry(gettext_lazy("Import"), "imports", "delivery", lambda user: user.may_write),
    MenuEntry(gettext_lazy("Backups"), "backups", "export", lambda user: user.is_owner),
)
