"""What stands in the frame of every page, many times over: icons, and the lines of the menu.

Written here and not in templates, since every page waits for them: a line once for each language, and for each of
what it tells.
"""

from collections.abc import Iterable
from functools import cache, lru_cache
from typing import NamedTuple

from django.templatetags.static import static
from django.urls import get_script_prefix
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from studio import translation
from studio.pages.addresses import page_address
from studio.pages.navigation import MenuEntry

NOTHING = mark_safe("")
LINES_KEPT = 1_024


class MenuLine(NamedTuple):
    """An entry as a page shows it: `current` is what `aria-current` says of it, `waiting` how much waits there."""

    entry: MenuEntry
    current: str
    waiting: int


@cache
def icon(name: str) -> SafeString:
    """One drawn icon, always beside a word."""
    return format_html(
        '<svg class="icon" aria-hidden="true"><use href="{}#{}" /></svg>', static("studio/icons.svg"), name
    )


def menu_lines(lines: Iterable[MenuLine]) -> SafeString:
    """Lines of the menu: each leads somewhere, and may tell how much waits there."""
    spoken, prefix = translation.language(), get_script_prefix()
    return mark_safe("".join(_menu_line(line, spoken, prefix) for line in lines))


def key_lines(entries: Iterable[MenuEntry]) -> SafeString:
    """The keys that lead to these pages."""
    spoken, prefix = translation.language(), get_script_prefix()
    return mark_safe("".join(_key_line(entry, spoken, prefix) for entry in entries))


@lru_cache(LINES_KEPT)
def _menu_line(line: MenuLine, spoken: str, prefix: str) -> SafeString:
    entry = line.entry
    return format_html(
        '<li><a class="nav-link" href="{}"{}>{}<span>{}</span>{}</a></li>',
        page_address(entry.to),
        format_html(' aria-current="{}"', line.current) if line.current else NOTHING,
        icon(entry.icon),
        entry.label,
        _count(line) if line.waiting else NOTHING,
    )


@lru_cache(LINES_KEPT)
def _key_line(entry: MenuEntry, spoken: str, prefix: str) -> SafeString:
    return format_html(
        '<div><dt><kbd>g</kbd> <kbd>{0}</kbd></dt><dd><a href="{1}" data-key="{0}">{2}</a></dd></div>',
        entry.key,
        page_address(entry.to),
        entry.label,
    )


def _count(line: MenuLine) -> SafeString:
    return format_html(
        '<span class="count">{}<span class="visually-hidden"> {}</span></span>',
        line.waiting,
        line.entry.count_words,
    )
