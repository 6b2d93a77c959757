"""Work out a part of a page once and show it twice: {% kept as places %} … {% endkept %}, then {{ places }}."""

from django import template
from django.template.base import Node, NodeList, Parser, Token
from django.template.context import Context
from django.utils.safestring import SafeString, mark_safe

register = template.Library()


class Kept(Node):
    """Shows nothing itself; what stands in it is kept under a name for the rest of the template."""

    def __init__(self, name: str, nodelist: NodeList) -> None:
        self.name, self.nodelist = name, nodelist

    def render(self, context: Context) -> SafeString:
        context[self.name] = self.nodelist.render(context)
        return mark_safe("")


@register.tag
def kept(parser: Parser, token: Token) -> Kept:
    """Raises TemplateSyntaxError for anything but {% kept as NAME %}."""
    words = token.split_contents()
    if len(words) != 3 or words[1] != "as":
        raise template.TemplateSyntaxError("Write {% kept as NAME %}.")
    nodelist = parser.parse(("endkept",))
    parser.delete_first_token()
    return Kept(words[2], nodelist)
