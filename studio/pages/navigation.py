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


# A label in another language is another text: groups and entries are compared as themselves.


@dataclass(frozen=True, slots=True, eq=False)
class Group:
    """A heading of the menu; those with a lower position come first."""

    label: "_StrOrPromise"
    position: int


@dataclass(frozen=True, slots=True, eq=False)
class MenuEntry:
    """A page in the menu: its label, the name of its address, its icon, and who sees it.

    `count` names a number that every page's context holds; `count_words` says what it counts. `key` opens it after a G.
    """

    label: "_StrOrPromise"
    to: str
    icon: str
    allowed: Callable[["User"], bool] = everyone
    count: str = ""
    count_words: "_StrOrPromise" = ""
    key: str = ""


FIRST = Group("", 0)
RECORDS = Group(gettext_lazy("Records"), 80)
SET_UP = Group(gettext_lazy("Set-up"), 90)

BAR = "bar"  # of a person's page choices: the addresses in the bottom bar
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


def bar_choices(user: "User") -> list[MenuEntry]:
    """What a person may put into the bottom bar: what stands there by itself first, then the rest of the menu."""
    offered = [*_usual_bar(user), *(entry for _group, entries in menu(user) for entry in entries)]
    return list({entry.to: entry for entry in reversed(offered)}.values())[::-1]


def bar(user: "User") -> list[MenuEntry]:
    """The bottom bar's entries for this person: as chosen, where that is still theirs to see."""
    usual = _usual_bar(user)
    chosen = user.page_choices.get(BAR, [])
    if not chosen:
        return usual
    offered = {entry.to: entry for entry in bar_choices(user)}
    return [offered[to] for to in chosen if to in offered] or usual


def keyed(user: "User") -> list[MenuEntry]:
    """The entries that a key opens, in the order of the menu."""
    return sorted((entry for entry in bar_choices(user) if entry.key), key=lambda entry: entry.key)


def _usual_bar(user: "User") -> list[MenuEntry]:
    places = [next((entry for entry in _BAR[place] if entry.allowed(user)), None) for place in sorted(_BAR)]
    return [entry for entry in places if entry is not None]


register(
    RECORDS,
    MenuEntry(gettext_lazy("Change log"), "change-log", "note", lambda user: user.role != Role.HELPER),
    MenuEntry(gettext_lazy("Glossary"), "glossary", "words", key="g"),
)
register(
    SET_UP,
    MenuEntry(gettext_lazy("Settings"), "settings", "settings", lambda user: user.is_owner),
    MenuEntry(gettext_lazy("Import"), "imports", "delivery", lambda user: user.may_write),
    MenuEntry(gettext_lazy("Backups"), "backups", "export", lambda user: user.is_owner),
)
