"""Inputs and choices written in Python are those that Django's templates write."""

import re
from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from django import forms
from django.forms.renderers import DjangoTemplates
from django.forms.utils import ErrorList
from django.utils.safestring import mark_safe
from django.utils.translation import gettext_lazy, override

from studio.pages.widgets import WRITERS, QuickRenderer

ODD = {
    "class": 'a "b" <c>',
    "required": True,
    "disabled": False,
    "maxlength": 1_200,
    "data-said": gettext_lazy("Search"),
    "data-none": None,
    "data-safe": mark_safe("&amp;"),
}
CHOICES: Any = [
    ("", "---------"),
    (1_234, 1_234),
    (2, gettext_lazy("Search")),
    ("<3>", mark_safe("<i>as it is</i>")),
    ("A & B", [("in", "Inside"), (True, 'with "quotes"')]),
]
TEXTS = [
    forms.TextInput,
    forms.NumberInput,
    forms.EmailInput,
    forms.HiddenInput,
    forms.DateInput,
    forms.PasswordInput,
    forms.Textarea,
    forms.CheckboxInput,
]


@pytest.mark.parametrize("kind", TEXTS)
@pytest.mark.parametrize(
    "value", [None, "", "<b>&'\"", 1_234.5, date(2026, 3, 31), mark_safe("&eacute;"), True]
)
def test_an_input_is_the_one_of_djangos_template(kind: Callable[..., forms.Widget], value: Any) -> None:
    _compare(kind(attrs=ODD), value)


@pytest.mark.parametrize(
    "kind", [forms.Select, forms.SelectMultiple, forms.NullBooleanSelect, forms.RadioSelect]
)
@pytest.mark.parametrize("value", [None, "", 1_234, "in", "<3>"])
def test_choices_are_those_of_djangos_template(kind: Callable[..., forms.Widget], value: Any) -> None:
    widget = kind(attrs=ODD) if kind is forms.NullBooleanSelect else kind(attrs=ODD, choices=CHOICES)
    _compare(widget, value)


def test_a_widget_with_a_template_of_its_own_is_drawn_by_it() -> None:
    class Plain(forms.Select):
        template_name = "django/forms/widgets/multiple_input.html"

    _compare(Plain(choices=CHOICES), 2)


def _compare(widget: forms.Widget, value: Any) -> None:
    for language in ("en-gb", "de"):
        with override(language):
            ours, djangos = (
                widget.render("a<b>", value, renderer=renderer)
                for renderer in (QuickRenderer(), DjangoTemplates())
            )
        assert re.sub(r"\n\s*", "\n", ours) == re.sub(r"\n\s*", "\n", djangos)


@pytest.mark.parametrize("errors", [[], ["Too <large>."], ["One.", "Two."]])
def test_errors_are_those_of_djangos_template(errors: list[str]) -> None:
    ours, djangos = (
        ErrorList(errors, renderer=renderer, field_id="a").render()
        for renderer in (QuickRenderer(), DjangoTemplates())
    )
    assert ours == djangos


def test_every_form_is_drawn_so() -> None:
    assert isinstance(forms.Form().renderer, QuickRenderer)
    assert "django/forms/widgets/select.html" in WRITERS
