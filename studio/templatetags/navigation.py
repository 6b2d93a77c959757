"""The menu and the bottom bar: {% menu as groups %} and {% bottom_bar as entries %}, and a part shown twice."""

from typing import TYPE_CHECKING

from django import template
from django.template.context import RequestContext
from django.utils.safestring import SafeString

from studio.pages import navigation
from studio.pages.frame import MenuLine, key_lines, menu_lines

if TYPE_CHECKING:
    from studio.accounts.models import User

register = template.Library()
register.simple_tag(menu_lines)


@register.simple_tag(takes_context=True)
def menu(context: RequestContext) -> list[tuple[str, list[MenuLine]]]:
    """The groups of the menu: each a label and its entries."""
    return [
        (str(group.label), [_shown(entry, context) for entry in entries])
        for group, entries in navigation.menu(context["user"])
    ]


@register.simple_tag(takes_context=True)
def bottom_bar(context: RequestContext) -> list[MenuLine]:
    """The entries of the bottom bar."""
    return [_shown(entry, context) for entry in navigation.bar(context["user"])]


@register.simple_tag
def keyed(user: "User") -> SafeString:
    """The lines of the pages that a key opens."""
    return key_lines(navigation.keyed(user))


@register.simple_block_tag
def kept(content: str) -> str:
    """A part that is worked out once and shown twice: {% kept as places %} … {% endkept %}, then {{ places }}."""
    return content


@register.filter
def counted(groups: list[tuple[str, list[MenuLine]]]) -> int:
    """What waits behind the menu: the numbers beside its entries together."""
    return sum(line.waiting for _label, lines in groups for line in lines)


def _shown(entry: navigation.MenuEntry, context: RequestContext) -> MenuLine:
    match = context["request"].resolver_match
    is_here = match is not None and match.view_name == entry.to
    current = "page" if is_here else "true" if context.get("section") == entry.to else ""
    return MenuLine(entry, current, int(context.get(entry.count) or 0) if entry.count else 0)
