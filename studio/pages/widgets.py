"""Inputs and lists of choices as Django's own templates write them, but for white space, written in Python.

A long form has hundreds of them, and for each Django renders a template, with another inside for every choice, and one
more for its errors, though it has none.
"""

from collections.abc import Callable, Mapping
from typing import Any

from django.forms.renderers import DjangoTemplates
from django.forms.utils import ErrorList
from django.utils.formats import localize
from django.utils.safestring import SafeString, mark_safe

from studio.pages.escaping import as_html

INPUTS = (
    "checkbox", "color", "date", "datetime", "email", "hidden", "number", "password", "search", "tel", "text", "time",
    "url",
)  # fmt: skip
NOTHING = mark_safe("")


class QuickRenderer(DjangoTemplates):
    """What it cannot write, or a form draws by a template of its own, is left to Django."""

    def render(self, template_name: str, context: Mapping[str, Any], request: Any = None) -> SafeString:
        if (write := WRITERS.get(template_name)) is not None:
            return mark_safe(write(context["widget"]))  # each piece is escaped below
        if template_name == ErrorList.template_name and not context["errors"]:
            return NOTHING
        return mark_safe(super().render(template_name, dict(context), request))


def _attributes(widget: Mapping[str, Any]) -> str:
    if not widget["attrs"]:  # as most choices have none
        return ""
    return "".join(
        f" {as_html(name)}" if value is True else f' {as_html(name)}="{as_html(value)}"'
        for name, value in widget["attrs"].items()
        if value is not False
    )


def _input(widget: Mapping[str, Any]) -> str:
    value = "" if widget["value"] is None else f' value="{as_html(widget["value"])}"'
    name = as_html(widget["name"])
    return f'<input type="{as_html(widget["type"])}" name="{name}"{value}{_attributes(widget)}>'


def _text_area(widget: Mapping[str, Any]) -> str:
    value = as_html(localize(widget["value"])) if widget["value"] else ""
    return f'<textarea name="{as_html(widget["name"])}"{_attributes(widget)}>\n{value}</textarea>'


def _option(widget: Mapping[str, Any]) -> str:
    label = as_html(localize(widget["label"]))
    return f'<option value="{as_html(widget["value"])}"{_attributes(widget)}>{label}</option>'


def _select(widget: Mapping[str, Any]) -> str:
    pieces = [f'<select name="{as_html(widget["name"])}"{_attributes(widget)}>']
    for name, options, _index in widget["optgroups"]:
        if name:
            pieces.append(f'\n<optgroup label="{as_html(localize(name))}">')
        pieces += [f"\n{_option(option)}" for option in options]
        if name:
            pieces.append("\n</optgroup>")
    return "".join([*pieces, "\n</select>"])


WRITERS: dict[str, Callable[[Mapping[str, Any]], str]] = {
    **dict.fromkeys([f"django/forms/widgets/{kind}.html" for kind in INPUTS], _input),
    "django/forms/widgets/textarea.html": _text_area,
    "django/forms/widgets/select.html": _select,
}
