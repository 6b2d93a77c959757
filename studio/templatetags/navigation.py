"""The menu and the bottom bar: {% menu as groups %} and {% bottom_bar as entries %}, and a part shown twice."""

from typing import TYPE_CHECKING, Any

from django import template
from django.template.context import RequestContext

from studio.pages import navigation

if TYPE_CHECKING:
    from studio.accounts.models import User

register = template.Library()


@register.simple_tag(takes_context=True)
def menu(context: RequestContext) -> list[dict[str, Any]]:
    """The groups of the menu: each a label and its entries."""
    return [
        {"label": group.label, "entries": [_shown(entry, context) for entry in entries]}
        for group, entries in navigation.menu(context["user"])
    ]


@register.simple_tag(takes_context=True)
def bottom_bar(context: RequestContext) -> list[dict[str, Any]]:
    """The entries of the bottom bar."""
    return [_shown(entry, context) for entry in navigation.bar(context["user"])]


@register.simple_tag
def keyed(user: "User") -> list[navigation.MenuEntry]:
    """The pages that a key opens."""
    return navigation.keyed(user)


@register.simple_block_tag
def kept(content: str) -> str:
    """A part that is worked out once and shown twice: {% kept as places %} … {% endkept %}, then {{ places }}."""
    return content


@register.filter
def counted(groups: list[dict[str, Any]]) -> int:
    """What waits behind the menu: the numbers beside its entries together."""
    return sum(entry["count"] for group in groups for entry in group["entries"])


def _shown(entry: navigation.MenuEntry, context: RequestContext) -> dict[str, Any]:
    match = context["request"].resolver_match
    is_here = match is not None and match.view_name == entry.to
    return {
        "current": "page" if is_here else "true" if context.get("section") == entry.to else "",
        "to": entry.to,
        "label": entry.label,
        "icon": entry.icon,
        "count": int(context.get(entry.count) or 0) if entry.count else 0,
        "count_words": entry.count_words,
    }
