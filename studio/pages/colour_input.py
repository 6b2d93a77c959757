"""A colour in a form."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy


class ColourInput(forms.TextInput):
    """A colour as text, such as #1f5f6b. With a script, the browser's own picker stands beside it."""

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        usual = {"data-colour": gettext_lazy("Pick a colour"), "placeholder": "#1f5f6b"}
        super().__init__({**usual, **(attrs or {})})
